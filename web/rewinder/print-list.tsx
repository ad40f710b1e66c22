import { useState } from 'preact/hooks';
import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { NumberField } from '../form/number-field.tsx';
import { isWithin } from '../form/typed-number.ts';
import { metres } from '../format/numbers.ts';
import type { RewinderModel } from './rewinder-model.ts';

type Amount = CutPlanView['choices']['prints'][number];

const ABOVE_ZERO = { exclusiveMinimum: 0 };
/** As many as the service plans for. */
const PRINTS_MAX = 10;

/** The prints that the coils should be long enough for, and which coil each gets. */
export function PrintList({ model, plan }: { model: RewinderModel; plan: CutPlanView }) {
  const { prints } = plan.choices;
  const [amount, setAmount] = useState<number | null>(null);
  const [unit, setUnit] = useState<Amount['unit']>('grams');
  return (
    <div class="print-list">
      {prints.length > 0 && (
        <ul data-testid="prints">
          {prints.map((print, i) => {
            const planned = plan.prints[i];
            return (
              <li key={`${i} ${print.amount} ${print.unit}`}>
                <span>
                  {print.amount} {print.unit === 'grams' ? 'g' : 'm'}
                  {planned && <span class="quiet"> ({metres(planned.needMm, 1)}&nbsp;m with reserve)</span>}
                </span>
                <b>{planned?.coil ? `coil ${planned.coil}` : 'no coil is long enough'}</b>
                <button
                  type="button"
                  class="plain"
                  onClick={() => model.choose({ prints: prints.filter((_, other) => other !== i) })}
                >
                  Remove
                </button>
              </li>
            );
          })}
        </ul>
      )}
      {prints.length < PRINTS_MAX && (
        <InlineForm
          button="Add a print"
          ready={isWithin(amount, ABOVE_ZERO)}
          submit={() => {
            if (amount === null) return;
            void model.choose({ prints: [...prints, { amount, unit }] });
            setAmount(null);
          }}
        >
          <NumberField
            id="print-amount"
            label="A print needs"
            value={amount}
            digits={unit === 'grams' ? 0 : 1}
            bounds={ABOVE_ZERO}
            set={setAmount}
          />
          <fieldset class="switch">
            <legend class="visually-hidden">Unit</legend>
            {(['grams', 'metres'] as const).map((one) => (
              <label key={one}>
                <input type="radio" name="print-unit" checked={unit === one} onChange={() => setUnit(one)} />
                <span>{one}</span>
              </label>
            ))}
          </fieldset>
        </InlineForm>
      )}
    </div>
  );
}
