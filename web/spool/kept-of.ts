import type { SpoolView } from '../../server/api/contract.ts';
import type { SpoolJudgement } from '../../server/api/spool-contract.ts';

/**
 * What cutting keeps of a spool: as the verdict for the chosen printer says, and once cuts were made as the plan that
 * follows them. null = not told, while it is being wound and not yet judged.
 */
export function keptOf(
  spool: Pick<SpoolView, 'woundMm' | 'offMm' | 'cutPlan'>,
  judgement: Pick<SpoolJudgement, 'verdict'> | null,
): { readonly keptMm: number; readonly coils: number } | null {
  if (spool.offMm > 0 || judgement === null) return spool.cutPlan;
  const { afterCutting } = judgement.verdict;
  return afterCutting ?? { keptMm: spool.woundMm, coils: 1 };
}
