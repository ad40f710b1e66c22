import { useState } from 'preact/hooks';
import type { LengthScale } from '../../server/api/contract/judgement.ts';
import { InlineForm } from '../form/inline-form.tsx';
import { NumberField } from '../form/number-field.tsx';
import { isWithin, type NumberBounds } from '../form/typed-number.ts';
import { useFaults } from '../form/use-faults.ts';
import { length, metres } from '../format/numbers.ts';
import { shortDay } from '../format/times.ts';
import { showNotice } from '../shell/notice.tsx';
import { ProblemNote } from '../shell/problem-note.tsx';
import type { JudgementModel } from './judgement-model.ts';

type Name = 'indicatedMm' | 'measuredMm' | 'uncertaintyMm';

const FIELDS: readonly { readonly name: Name; readonly label: string; readonly bounds: NumberBounds }[] = [
  { name: 'indicatedMm', label: 'The line counted', bounds: { exclusiveMinimum: 0 } },
  { name: 'measuredMm', label: 'Measured by tape', bounds: { exclusiveMinimum: 0 } },
  { name: 'uncertaintyMm', label: 'Accurate to ±', bounds: { minimum: 0 } },
];
const NAMES = FIELDS.map(({ name }) => name);

/** Corrects the counted lengths of the whole spool by a tape measurement. */
export function TapeForm({
  model,
  scale,
  changed,
}: {
  model: JudgementModel;
  scale: LengthScale;
  changed: () => void;
}) {
  const [entered, setEntered] = useState<Readonly<Record<Name, number | null>>>({
    indicatedMm: null,
    measuredMm: null,
    uncertaintyMm: 10,
  });
  const { faults, problem, showThrown, clear, clearAll } = useFaults(NAMES, (name) => `tape-${name}`);
  const act = async (input: Parameters<JudgementModel['correctLength']>[0], text: string) => {
    try {
      await model.correctLength(input);
      clearAll();
      showNotice({ text });
      changed();
    } catch (thrown) {
      showThrown(thrown);
    }
  };
  const ready = FIELDS.every(({ name, bounds }) => isWithin(entered[name], bounds));
  return (
    <>
      {scale.measured ? (
        <p>
          On {shortDay(scale.measured.atMs)} {metres(scale.measured.measuredMm, 3)}&nbsp;m ±{' '}
          {length(scale.measured.uncertaintyMm)} were measured by tape where the line had counted{' '}
          {metres(scale.measured.indicatedMm, 3)}&nbsp;m: every length of this spool is multiplied by{' '}
          <b>{scale.factor.toFixed(4)}</b>, good to {(scale.share * 100).toFixed(2)}&#8239;%.{' '}
          <button type="button" class="plain no-print" onClick={() => act(null, 'Lengths are as counted again.')}>
            Undo{' '}
          </button>
        </p>
      ) : (
        <p>
          Never measured by tape: lengths are as the line counted them, assumed accurate to{' '}
          {(scale.share * 100).toFixed(0)}&#8239;%. A stretch of 5&nbsp;m measured to 1&nbsp;cm brings that to
          0.2&#8239;%.
        </p>
      )}
      <InlineForm
        button="Correct the lengths"
        ready={ready}
        submit={() => {
          const { indicatedMm, measuredMm, uncertaintyMm } = entered;
          if (indicatedMm === null || measuredMm === null || uncertaintyMm === null) return;
          void act({ indicatedMm, measuredMm, uncertaintyMm }, 'All lengths of this spool have been corrected.');
        }}
      >
        {FIELDS.map(({ name, label, bounds }) => (
          <NumberField
            key={name}
            id={`tape-${name}`}
            label={label}
            value={entered[name] === null ? null : entered[name] / 1000}
            digits={3}
            unit="m"
            bounds={bounds}
            fault={faults[name]}
            set={(m) => {
              clear(name);
              setEntered({ ...entered, [name]: m === null ? null : m * 1000 });
            }}
          />
        ))}
      </InlineForm>
      {problem && <ProblemNote problem={problem} />}
    </>
  );
}
