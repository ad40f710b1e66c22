import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import { unbroken } from '../format/numbers.ts';
import { Shape } from '../shell/shape.tsx';

/** Reasons to be careful with the plan, except what is wrong with a coil: `CoilRescue` shows that. */
export function PlanWarnings({ plan }: { plan: CutPlanView }) {
  const repairs = plan.coils.map(({ repair }) => repair?.sentence);
  return (
    <>
      {plan.warnings
        .filter((warning) => !repairs.includes(warning))
        .map((warning) => (
          <p key={warning} class="with-shape plan-warning">
            <Shape of="abnormal" size={20} /> <span>{unbroken(warning)}</span>
          </p>
        ))}
    </>
  );
}
