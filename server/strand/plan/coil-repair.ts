import type { CountGuard } from './count-guard.ts';
import type { DonePiece } from './done-cuts.ts';
import { lengthText, stretchName } from './landmark-hint.ts';
import type { BadStretch, SpoolMap } from './spool-map.ts';

/** How to save a coil that holds, or may hold, a bad stretch. */
export interface CoilRepair {
  /** To be cut off its outer end, which was unwound first, and off its inner end, where the last cut was; mm. */
  readonly outerMm: number;
  readonly innerMm: number;
  /** What is left then; 0 = too short to keep. */
  readonly leftMm: number;
  readonly sentence: string;
}

/** @returns null for a clean or a discarded piece */
export function coilRepair(
  map: SpoolMap,
  guard: CountGuard,
  piece: DonePiece,
  coil: string,
  shortestMm: number,
): CoilRepair | null {
  const { holds, condition, start, end, fromMm, toMm } = piece;
  if (condition === 'clean') return null;
  const lengthMm = toMm - fromMm;
  // The first stretches go with the outer end, the others with the inner one: whatever leaves the longest coil.
  const ways = Array.from({ length: holds.length + 1 }, (_, outer) => {
    const [before, behind] = [holds[outer - 1], holds[outer]];
    const outerMm = before === undefined ? 0 : guard.surelyLength(start.leastMm, before.toMm);
    const innerMm = behind === undefined ? 0 : guard.surelyLength(behind.fromMm, end.mostMm);
    return { outerMm, innerMm, leftMm: lengthMm - outerMm - innerMm };
  });
  const best = ways.reduce((a, b) => (b.leftMm > a.leftMm ? b : a));
  const leftMm = best.leftMm >= shortestMm ? best.leftMm : 0;
  const where = holds.map((bad) => `${stretchName(map, bad)} ${whereIn(bad, fromMm, toMm)}`).join(', ');
  const has = condition === 'spoilt' ? 'holds' : 'may hold';
  const cutOff = [
    ...(best.outerMm > 0 ? [`${lengthText(best.outerMm)} off its outer end, the one that was unwound first`] : []),
    ...(best.innerMm > 0 ? [`${lengthText(best.innerMm)} off its inner end, where the cut was`] : []),
  ];
  const save =
    leftMm > 0
      ? `Cut another ${cutOff.join(' and ')}: that leaves ${lengthText(leftMm)} of clean strand.`
      : 'Too little would be left of it: discard it.';
  return { ...best, leftMm, sentence: `Coil ${coil} ${has} ${where}. ${save}` };
}

/** By counts, from the nearer end. */
function whereIn(bad: BadStretch, fromMm: number, toMm: number): string {
  if (bad.fromMm <= fromMm) return 'at its outer end';
  if (bad.toMm >= toMm) return 'at its inner end';
  const [afterMm, beforeMm] = [bad.fromMm - fromMm, toMm - bad.toMm];
  return afterMm < beforeMm
    ? `about ${lengthText(afterMm)} from its outer end`
    : `about ${lengthText(beforeMm)} from its inner end`;
}
