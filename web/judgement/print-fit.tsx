import { useState } from 'preact/hooks';
import type { PrintFitView } from '../../server/api/contract/cut-plan.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { NumberField } from '../form/number-field.tsx';
import { isWithin } from '../form/typed-number.ts';
import { unbroken } from '../format/numbers.ts';
import { call } from '../service/call.ts';
import { asProblem, type ServiceProblem } from '../service/request.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { Shape } from '../shell/shape.tsx';

const ABOVE_ZERO = { exclusiveMinimum: 0 };

/** Whether a coil is long enough for a print, and which one. */
export function PrintFit({ spoolId }: { spoolId: number }) {
  const [unit, setUnit] = useState<'grams' | 'metres'>('grams');
  const [need, setNeed] = useState<number | null>(null);
  const [answer, setAnswer] = useState<PrintFitView | null>(null);
  const [problem, setProblem] = useState<ServiceProblem | null>(null);
  const ask = async () => {
    if (need === null) return;
    try {
      setAnswer(await call('GET /api/spools/:id/print-fit', { params: { id: spoolId }, query: { [unit]: need } }));
      setProblem(null);
    } catch (thrown) {
      setAnswer(null);
      setProblem(asProblem(thrown));
    }
  };
  return (
    <>
      <InlineForm button="Does it fit?" ready={isWithin(need, ABOVE_ZERO)} submit={ask}>
        <NumberField
          id="print-need"
          label="The print needs"
          value={need}
          digits={unit === 'grams' ? 0 : 1}
          bounds={ABOVE_ZERO}
          set={(value) => {
            setNeed(value);
            setAnswer(null);
          }}
        />
        <fieldset class="switch">
          <legend class="visually-hidden">Unit</legend>
          {(['grams', 'metres'] as const).map((one) => (
            <label key={one}>
              <input
                type="radio"
                name="need-unit"
                checked={unit === one}
                onChange={() => {
                  setUnit(one);
                  setAnswer(null);
                }}
              />
              <span>{one}</span>
            </label>
          ))}
        </fieldset>
      </InlineForm>
      {problem && <ProblemNote problem={problem} />}
      <div role="status" class="fit-answer" data-testid="print-fit">
        {answer && (
          <>
            <p class="with-shape">
              <Shape of={answer.fits ? 'calm' : 'abnormal'} size={20} />
              <span>{unbroken(answer.sentence)}</span>
            </p>
            {answer.caution && <p class="quiet">{answer.caution}</p>}
          </>
        )}
      </div>
    </>
  );
}
