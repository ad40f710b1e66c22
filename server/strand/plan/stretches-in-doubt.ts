import type { Doubt, SectionKind } from '../section.ts';
import type { PlanStretch } from './cut-request.ts';
import { fromOuterEnd, type SpoolMap } from './spool-map.ts';

/** A stretch that may be good: who cuts it out, keeps it or prints it should know. Positions from the outer end. */
export interface StretchInDoubt {
  readonly kind: SectionKind;
  /** Why; null = marked doubtful without a reason. */
  readonly doubt: Doubt | null;
  readonly fromOuterMm: number;
  readonly toOuterMm: number;
}

/** The stretches in doubt that are, at least partly, between two positions; in the order of unwinding. */
export function stretchesInDoubt(
  { woundMm }: SpoolMap,
  stretches: readonly PlanStretch[],
  fromOuterMm: number,
  toOuterMm: number,
): StretchInDoubt[] {
  return stretches
    .flatMap((stretch): StretchInDoubt[] => {
      const { kind, doubt, fate } = stretch;
      if (kind === undefined || (fate !== 'doubtful' && doubt === undefined)) return [];
      const { fromMm, toMm } = fromOuterEnd(woundMm, stretch);
      if (toMm <= fromOuterMm || fromMm >= toOuterMm) return [];
      return [{ kind, doubt: doubt ?? null, fromOuterMm: fromMm, toOuterMm: toMm }];
    })
    .sort((a, b) => a.fromOuterMm - b.fromOuterMm);
}
