import { changeEvidence } from '../statistics/change-evidence.ts';

/** Metres are joined into at most this many means. */
const MEANS_MAX = 100;
/** Fewer say nothing about wander. */
const MEANS_MIN = 10;

interface Metre {
  readonly fromMm: number;
  readonly toMm: number;
  readonly meanMm: number;
}

/**
 * How much better a drift since a place explains successive metres than wander does: one that continues, or one that
 * ended halfway, whichever fits better.
 */
export function driftEvidence(metres: readonly Metre[], sinceMm: number): number {
  const joined = Math.ceil(metres.length / MEANS_MAX);
  const count = Math.floor(metres.length / joined);
  if (count < MEANS_MIN) return 0;
  const halfMm = (metres.at(-1)!.toMm - sinceMm) / 2;
  // Sums serve as well as means: the evidence does not depend on the scale.
  const sums = new Float64Array(count);
  const continuing = new Float64Array(count);
  const ended = new Float64Array(count);
  // The first metres are left out where they do not make a whole mean: the last ones matter more.
  const first = metres.length - count * joined;
  for (let i = 0; i < count * joined; i++) {
    const { meanMm, toMm } = metres[first + i]!;
    const k = Math.floor(i / joined);
    const pastMm = Math.max(0, toMm - sinceMm);
    sums[k]! += meanMm;
    continuing[k]! += pastMm;
    ended[k]! += Math.min(pastMm, halfMm);
  }
  return Math.max(changeEvidence(sums, continuing), changeEvidence(sums, ended));
}
