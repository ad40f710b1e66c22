import type { LengthScale } from '../../server/api/contract/judgement.ts';
import { length, metres } from '../format/numbers.ts';
import { shortDay } from '../format/times.ts';
import type { JudgementModel } from './judgement-model.ts';
import { MeasuredForm } from './measured-form.tsx';

const FIELDS = [
  { name: 'indicatedMm', label: 'The line counted', bounds: { exclusiveMinimum: 0 } },
  { name: 'measuredMm', label: 'Measured by tape', bounds: { exclusiveMinimum: 0 } },
  { name: 'uncertaintyMm', label: 'Accurate to ±', bounds: { minimum: 0 }, initially: 10 },
] as const;

interface Props {
  readonly model: JudgementModel;
  readonly scale: LengthScale;
  readonly changed: () => void;
}

/** Corrects the counted lengths of the whole spool by a tape measurement. */
export function TapeForm({ model, scale: { factor, share, measured }, changed }: Props) {
  return (
    <MeasuredForm
      id="tape"
      fields={FIELDS}
      unit="m"
      perUnit={1000}
      digits={3}
      button="Correct the lengths"
      saved="All lengths of this spool have been corrected."
      undone={measured && 'Lengths are as counted again.'}
      save={(values) => model.correctLength(values)}
      changed={changed}
    >
      {measured ? (
        <>
          On {shortDay(measured.atMs)} {metres(measured.measuredMm, 3)}&nbsp;m ± {length(measured.uncertaintyMm)} were
          measured by tape where the line had counted {metres(measured.indicatedMm, 3)}&nbsp;m: every length of this
          spool is multiplied by <b>{factor.toFixed(4)}</b>, good to {(share * 100).toFixed(2)}&#8239;%.
        </>
      ) : (
        <>
          Never measured by tape: lengths are as the line counted them, assumed accurate to {(share * 100).toFixed(0)}
          &#8239;%. A stretch of 5&nbsp;m measured to 1&nbsp;cm brings that to 0.2&#8239;%.
        </>
      )}
    </MeasuredForm>
  );
}
