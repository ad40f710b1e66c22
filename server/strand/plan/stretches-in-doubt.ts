import type { Doubt, SectionKind } from '../section.ts';
import type { CutRequest } from './cut-request.ts';

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
  { stretches, woundMm }: Pick<CutRequest, 'stretches' | 'woundMm'>,
  fromOuterMm: number,
  toOuterMm: number,
): StretchInDoubt[] {
  return stretches
    .flatMap(({ kind, doubt, fate, fromMm, toMm }): StretchInDoubt[] => {
      const place = { fromOuterMm: woundMm - toMm, toOuterMm: woundMm - fromMm };
      if (kind === undefined || (fate !== 'doubtful' && doubt === undefined)) return [];
      if (place.toOuterMm <= fromOuterMm || place.fromOuterMm >= toOuterMm) return [];
      return [{ kind, doubt: doubt ?? null, ...place }];
    })
    .sort((a, b) => a.fromOuterMm - b.fromOuterMm);
}
