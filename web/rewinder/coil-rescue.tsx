import type { CoilView, CutPlanView } from '../../server/api/contract/cut-plan.ts';
import { length, unbroken } from '../format/numbers.ts';
import { Shape } from '../shell/shape.tsx';
import type { RewinderModel } from './rewinder-model.ts';

/** Coils that hold or may hold a bad stretch: where it is, and how to save them. */
export function CoilRescue({ model, plan }: { model: RewinderModel; plan: CutPlanView }) {
  const last = plan.done.at(-1);
  return (
    <>
      {plan.coils.map((coil) => {
        const { repair } = coil;
        if (repair === null) return null;
        const justCut = last?.action === 'keep' && last.toOuterMm === coil.toOuterMm;
        return (
          <div key={coil.ordinal} class="coil-rescue" role="alert" data-testid="coil-rescue">
            <p class="with-shape">
              <Shape of={coil.condition === 'spoilt' ? 'danger' : 'abnormal'} size={26} />
              <span>{unbroken(repair.sentence)}</span>
            </p>
            {!justCut && <p class="fine">{earlierText(repair)}</p>}
            {justCut && (
              <p class="actions">
                <button type="button" disabled={model.busy.value} onClick={() => model.cutBack(repair)}>
                  {repairText(repair)}
                </button>
              </p>
            )}
          </div>
        );
      })}
    </>
  );
}

/** The cut list counts on from the cut after an earlier coil, so only the coil just cut can be recorded as cut back. */
function earlierText({ leftMm }: NonNullable<CoilView['repair']>): string {
  return leftMm > 0
    ? `This coil is off the rewinder already: cut it back, then write ${length(leftMm)} on its label. The warning stays here, because later cuts are counted from its end.`
    : 'This coil is off the rewinder already: take it away from the others. The warning stays here, because later cuts are counted from its end.';
}

function repairText({ leftMm, outerMm, innerMm }: NonNullable<CoilView['repair']>): string {
  return leftMm > 0 ? `I have cut ${length(outerMm + innerMm)} off` : 'I have discarded it';
}
