import type { CutPlanView } from '../../server/api/contract/cut-plan.ts';
import { metres } from '../format/numbers.ts';
import { progressOf } from './cut-progress.ts';

/** The spool as a bar, from its outer end: what is cut off, the current step, and the steps to come. */
export function CutProgressBar({ plan }: { plan: CutPlanView }) {
  const progress = progressOf(plan);
  const percent = (share: number) => `${(share * 100).toFixed(3)}%`;
  return (
    <div
      class="cut-progress"
      role="img"
      aria-label={`${metres(progress.offMm, 1)} of ${metres(plan.totals.woundMm, 1)} m is off the spool, ${progress.step} of ${progress.steps} steps are done`}
    >
      <div class="cut-progress-pieces">
        {progress.pieces.map((piece) => (
          <span
            key={piece.key}
            class={`cut-piece ${piece.fate} ${piece.state}`}
            style={{ left: percent(piece.left), width: percent(piece.width) }}
          />
        ))}
        <span class="cut-front" style={{ left: percent(progress.offShare) }} />
      </div>
      <p class="fine">
        <span>Outer end</span>
        <span>
          {metres(progress.offMm, 1)} of {metres(plan.totals.woundMm, 1)} m is off
        </span>
        <span>Core</span>
      </p>
    </div>
  );
}
