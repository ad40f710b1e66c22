import { useState } from 'preact/hooks';
import type { StockItem } from '../../server/api/contract/stock.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { isWithin } from '../form/typed-number.ts';
import { useFaults } from '../form/use-faults.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { ABOVE_ZERO, AmountField } from './amount-field.tsx';
import { recordUse } from './record-use.ts';

interface Props {
  readonly item: StockItem;
  readonly done: (after: StockItem) => void;
  /** Called when it is undone later. */
  readonly changed: (after: StockItem) => void;
}

/** "32 m used", or all of it. */
export function UseForm({ item, done, changed }: Props) {
  const [{ amount, unit }, setUsed] = useState<{ amount: number | null; unit: 'metres' | 'grams' }>({
    amount: null,
    unit: 'metres',
  });
  const id = `use-${item.code}`;
  const { faults, problem, showThrown, clear } = useFaults(['used'], () => id);
  const record = async (used: { amount?: number; unit: 'metres' | 'grams' | 'all' }, said: string) => {
    let isFirst = true;
    try {
      await recordUse(item.code, { kind: 'used', used, lastEntryId: item.lastEntryId }, said, (detail) => {
        (isFirst ? done : changed)(detail.item);
        isFirst = false;
      });
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  return (
    <>
      <InlineForm
        button={amount === null ? 'Record use' : `Record ${amount} ${unit === 'metres' ? 'm' : 'g'} used`}
        ready={isWithin(amount, ABOVE_ZERO)}
        submit={async () => {
          if (amount !== null)
            await record(
              { amount, unit },
              `Recorded ${amount} ${unit === 'metres' ? 'm' : 'g'} used from ${item.name}.`,
            );
        }}
      >
        <AmountField
          id={id}
          label={`Used from ${item.name}`}
          amount={amount}
          unit={unit}
          units={['metres', 'grams']}
          fault={faults.used}
          set={(value, chosen) => {
            setUsed({ amount: value, unit: chosen });
            clear('used');
          }}
        />
      </InlineForm>
      <p class="actions">
        <button type="button" class="plain" onClick={() => void record({ unit: 'all' }, `${item.name} is used up.`)}>
          All of it was used
        </button>
      </p>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}
