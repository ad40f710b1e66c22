import type { SpoolView } from '../../server/api/contract.ts';
import type { SpoolJudgement } from '../../server/api/spool-contract.ts';
import { counted, metres } from '../words/numbers.ts';

/** Two ways to the same length differ by no more than this, mm. */
const SAME_MM = 10;

/**
 * Why a verdict says another kept length than the head of the letter and its cut list, which follow the line's own limits
 * and the cuts that were made; null = they say the same.
 */
export function besideTheCutPlan(
  spool: Pick<SpoolView, 'woundMm' | 'offMm' | 'cutPlan'>,
  { verdict, woundMm, winding }: Pick<SpoolJudgement, 'verdict' | 'woundMm' | 'winding'>,
  byOwnLimits: boolean,
): string | null {
  if (winding) return `Judged when ${metres(woundMm, 1)} m were wound; it is still being wound.`;
  if (spool.offMm > 0) return `Judged as it was wound: ${metres(spool.offMm, 1)} m of it are cut off since.`;
  if (spool.cutPlan === null || byOwnLimits) return null;
  const { keptMm, coils } = verdict.afterCutting ?? { keptMm: spool.woundMm, coils: 1 };
  if (Math.abs(keptMm - spool.cutPlan.keptMm) <= SAME_MM && coils === spool.cutPlan.coils) return null;
  const by = (mm: number, n: number) => (n === 0 ? 'nothing' : `${metres(mm)} m in ${counted(n, 'coil')}`);
  return `By this printer’s limits cutting keeps ${by(keptMm, coils)}. “What to cut” and the head of this page follow the line’s own limits: ${by(spool.cutPlan.keptMm, spool.cutPlan.coils)}.`;
}
