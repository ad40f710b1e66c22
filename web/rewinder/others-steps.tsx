import type { CutPlanView, DoneCutView } from '../../server/api/contract/cut-plan.ts';
import { length } from '../format/numbers.ts';
import type { OthersSteps, RewinderModel } from './rewinder-model.ts';

/** What another device has done, and the one button that goes on from there. It replaces “Done”. */
export function OthersStepsNote(props: { model: RewinderModel; plan: CutPlanView; others: OthersSteps }) {
  const { model, plan, others } = props;
  return (
    <div class="step-form others" role="alert" data-testid="others">
      <p>{othersText(others, plan)}</p>
      <button type="button" class="main step-done" onClick={() => model.goOn()}>
        Go on with step {plan.done.length + 1}
      </button>
    </div>
  );
}

export function othersText({ added, undone }: OthersSteps, plan: CutPlanView): string {
  const last = added.at(-1);
  if (last === undefined) return `${whoOf(undone.at(-1))} undid step ${plan.done.length + 1}.`;
  const first = plan.done.findIndex(({ id }) => id === added[0]?.id) + 1;
  const at = plan.done.findIndex(({ id }) => id === last.id) + 1;
  return first === at
    ? `${whoOf(last)} did step ${at}: ${cutText(last, plan)}.`
    : `${whoOf(last)} did steps ${first} to ${at}. The last one: ${cutText(last, plan)}.`;
}

/** "kept 12.40 m as coil R3-1 B" */
export function cutText(cut: DoneCutView, { coils }: Pick<CutPlanView, 'coils'>): string {
  const coil = coils.find(({ state, toOuterMm }) => state === 'cut' && toOuterMm === cut.toOuterMm);
  if (cut.action === 'discard') return `discarded ${length(cut.countedMm)}`;
  return `kept ${length(cut.countedMm)}${coil === undefined ? '' : ` as coil ${coil.name}`}`;
}

/** An undone step keeps the name of who had done it, not of who undid it. */
function whoOf(cut: DoneCutView | undefined): string {
  const who = cut === undefined || cut.who === '' ? 'someone' : cut.who;
  return who.charAt(0).toUpperCase() + who.slice(1);
}
