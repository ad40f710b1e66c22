import { useState } from 'preact/hooks';
import type { LiveSpool } from '../../server/api/contract/runs-and-spools.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { NumberField } from '../form/number-field.tsx';
import { isWithin } from '../form/typed-number.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { may } from '../service/session.ts';
import { saveSettings, settings } from '../service/settings.ts';
import { ProblemNote } from '../shell/problem-note.tsx';

type Wanted = NonNullable<LiveSpool['wanted']>;

/** The setting for all spools, as an amount; null = none. */
const amountOnEach = (metres: number): Wanted | null => (metres > 0 ? { amount: metres, unit: 'metres' } : null);

const BOUNDS = { exclusiveMinimum: 0, maximum: 1_000_000 };

/** How much strand is wanted on the spool being wound, else on each to come: an alarm comes when it holds that. */
export function WantedAmount({ spool }: { spool: LiveSpool | null }) {
  const onEach = amountOnEach(settings.value?.wantedOnSpoolM ?? 0);
  const wanted = spool === null ? onEach : spool.wanted;
  const where = spool === null ? 'each spool' : `spool ${spool.ordinal}`;
  const allowed = may(spool === null ? 'manage' : 'act');
  // The amount on each spool is removed before there is one.
  const isOwn = spool === null || wanted?.amount !== onEach?.amount || wanted?.unit !== onEach?.unit;
  const [open, setOpen] = useState(false);
  const [amount, setAmount] = useState<number | null>(null);
  const [unit, setUnit] = useState<Wanted['unit']>('metres');
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const want = async (next: Wanted | null) => {
    try {
      if (spool === null) await saveSettings({ wantedOnSpoolM: next?.amount ?? 0 });
      else await call('PUT /api/spools/:id/wanted', { params: { id: spool.id }, body: { wanted: next } });
      setProblem(null);
      setOpen(false);
    } catch (thrown) {
      setProblem(asProblem(thrown));
    }
  };
  const edit = () => {
    setAmount(wanted?.amount ?? null);
    setUnit(spool === null ? 'metres' : (wanted?.unit ?? 'metres'));
    setOpen(true);
  };
  return (
    <section class="lot" aria-labelledby="wanted-title" data-testid="wanted">
      <p class="lot-text">
        <span id="wanted-title" class="lot-title">
          Alarm at:
        </span>{' '}
        {wanted ? (
          <span>
            {wanted.amount}&#8239;{wanted.unit === 'metres' ? 'm' : 'g'} on {where}.
          </span>
        ) : (
          <span class="quiet">no amount entered.</span>
        )}{' '}
        {!open && allowed && (
          <button type="button" class="plain" onClick={edit}>
            {wanted ? 'Change' : spool === null ? 'Enter metres…' : 'Enter metres or grams…'}
          </button>
        )}
        {!open && wanted && isOwn && allowed && (
          <>
            {' '}
            <button type="button" class="plain" onClick={() => want(null)}>
              Remove
            </button>
          </>
        )}
      </p>
      {open && (
        <InlineForm
          class="inline-form"
          button="Set"
          ready={isWithin(amount, BOUNDS)}
          submit={() => void (amount !== null && want({ amount, unit }))}
        >
          <NumberField
            label={`Wanted on ${where}${spool === null ? ', m' : ''}`}
            value={amount}
            bounds={BOUNDS}
            set={setAmount}
          />
          {spool !== null && (
            <fieldset class="switch">
              <legend class="visually-hidden">Unit</legend>
              {(['metres', 'grams'] as const).map((one) => (
                <label key={one}>
                  <input type="radio" name="wanted-unit" checked={unit === one} onChange={() => setUnit(one)} />
                  <span>{one}</span>
                </label>
              ))}
            </fieldset>
          )}
        </InlineForm>
      )}
      {problem && <ProblemNote problem={problem} />}
    </section>
  );
}
