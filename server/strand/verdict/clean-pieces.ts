import type { PlanStretch } from '../plan/cut-request.ts';

export interface CleanPiece {
  readonly fromMm: number;
  readonly toMm: number;
  readonly lengthMm: number;
}

/**
 * The pieces between stretches, longest first. Unmeasured strand is not clean.
 *
 * @param fates which stretches end a piece; by default all
 */
export function cleanPieces(
  lengthMm: number,
  stretches: readonly PlanStretch[],
  fates: readonly PlanStretch['fate'][] = ['discard', 'doubtful', 'unknown'],
): readonly CleanPiece[] {
  const sorted = stretches.filter((s) => fates.includes(s.fate)).sort((a, b) => a.fromMm - b.fromMm);
  const pieces: CleanPiece[] = [];
  let at = 0;
  const add = (toMm: number): void => {
    const end = Math.min(toMm, lengthMm);
    if (end > at) pieces.push({ fromMm: at, toMm: end, lengthMm: end - at });
  };
  for (const stretch of sorted) {
    add(stretch.fromMm);
    at = Math.max(at, stretch.toMm);
  }
  add(lengthMm);
  return pieces.sort((a, b) => b.lengthMm - a.lengthMm || a.fromMm - b.fromMm);
}

/** Length of strand by fate, mm; where stretches overlap the worst counts (discard, then unknown, then doubtful). */
export function lengthsOfFates(
  lengthMm: number,
  stretches: readonly PlanStretch[],
): Record<PlanStretch['fate'], number> {
  const covered = (fates: readonly PlanStretch['fate'][]): number =>
    lengthMm - cleanPieces(lengthMm, stretches, fates).reduce((sum, piece) => sum + piece.lengthMm, 0);
  const discard = covered(['discard']);
  const withUnknown = covered(['discard', 'unknown']);
  const all = covered(['discard', 'unknown', 'doubtful']);
  return { discard, unknown: withUnknown - discard, doubtful: all - withUnknown };
}
