import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import { counted, metres } from '../format/numbers.ts';
import { ProblemNote } from '../shell/problem-note.tsx';
import { CoilList } from './coil-list.tsx';
import { CoilRescue } from './coil-rescue.tsx';
import { CutProgressBar } from './cut-progress-bar.tsx';
import { othersText } from './others-steps.tsx';
import { PlanWarnings } from './plan-warnings.tsx';
import type { RewinderModel } from './rewinder-model.ts';
import { UndoLast } from './undo-last.tsx';

/** After the last cut: the coils with names and lengths. */
export function AllCut({ model, plan }: { model: RewinderModel; plan: CutPlanView }) {
  return (
    <section class="all-cut" data-testid="all-cut">
      <CutProgressBar plan={plan} />
      <h1>
        {plan.coils.length === 0
          ? 'Everything is cut; nothing was kept.'
          : `Everything is cut: ${counted(plan.coils.length, 'coil')}, ${metres(plan.totals.keptMm + plan.totals.unknownInCoilsMm)} m.`}
      </h1>
      {model.others.value && <p role="status">{othersText(model.others.value, plan)}</p>}
      <CoilRescue model={model} plan={plan} />
      <PlanWarnings plan={plan} />
      {model.problem.value && <ProblemNote problem={model.problem.value} />}
      <p class="actions">
        <a class="button main" href={`/spool/${plan.spoolId}/label`}>
          Print labels
        </a>
        <a class="button" href={`/spool/${plan.spoolId}`}>
          The spool’s page
        </a>
        {plan.done.length > 0 && <UndoLast model={model} plan={plan} />}
      </p>
      {plan.coils.length > 0 && <CoilList model={model} plan={plan} />}
    </section>
  );
}
