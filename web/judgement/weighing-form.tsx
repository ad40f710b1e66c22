import type { MassView } from '../../server/api/contract/judgement.ts';
import { gramsWithError } from '../format/numbers.ts';
import { shortDay } from '../format/times.ts';
import type { JudgementModel } from './judgement-model.ts';
import { MeasuredForm } from './measured-form.tsx';

const FIELDS = [
  { name: 'grossG', label: 'Spool with strand', bounds: { exclusiveMinimum: 0 } },
  { name: 'tareG', label: 'Empty spool', bounds: { minimum: 0 } },
  { name: 'uncertaintyG', label: 'Accurate to ±', bounds: { minimum: 0 }, initially: 1 },
] as const;

interface Props {
  readonly model: JudgementModel;
  readonly mass: MassView;
  readonly changed: () => void;
}

/** Replaces the computed mass of the whole spool by what a scale shows. */
export function WeighingForm({ model, mass, changed }: Props) {
  const { weighed, grams, gramsUncertainty, densityGPerCm3 } = mass;
  return (
    <MeasuredForm
      id="weighing"
      fields={FIELDS}
      unit="g"
      perUnit={1}
      digits={1}
      button="Use this mass"
      saved="The mass and density of this spool are those of the scale now."
      undone={weighed && 'The mass is computed from length, diameter and density again.'}
      save={(values) => model.weigh(values)}
      changed={changed}
    >
      {weighed ? (
        <>
          Weighed on {shortDay(weighed.atMs)}: <b>{gramsWithError(grams, gramsUncertainty)}</b> of strand, so its
          density is {densityGPerCm3.toFixed(3)}&nbsp;g/cm³.
        </>
      ) : (
        <>
          Never weighed: {gramsWithError(grams, gramsUncertainty)}, computed from length, diameter and a density of{' '}
          {densityGPerCm3.toFixed(2)}&nbsp;g/cm³. Weigh it whole, before the first cut.
        </>
      )}
    </MeasuredForm>
  );
}
