import { CELLS_A_MM, tallyDiameters } from './diameter-tally.ts';
import { quantiles } from './quantiles.ts';
import { WeightedMoments } from './weighted-moments.ts';

export interface Ovality {
  /** |dx − dy| averaged along the length. */
  readonly meanMm: number;
  readonly p95Mm: number;
  readonly largestMm: number;
  readonly largestAtSample: number;
  /** Mean |dx − dy| as a share of the mean diameter. */
  readonly share: number;
}

/**
 * Out-of-roundness from two fixed axes. They show the full difference of an ellipse only when it is aligned with them, and
 * 2/π (64 %) of it on average when it turns evenly. So the largest value is the better guide to the true one.
 *
 * @returns null where no sample has both axes
 */
export function ovality(
  dxMm: ArrayLike<number>,
  dyMm: ArrayLike<number>,
  weightsMm: ArrayLike<number>,
): Ovality | null {
  const difference = new Float64Array(dxMm.length).fill(Number.NaN);
  const moments = new WeightedMoments();
  const diameter = new WeightedMoments();
  let largestAtSample = -1;
  let largestMm = Number.NEGATIVE_INFINITY;
  for (let i = 0; i < dxMm.length; i++) {
    const mm = Math.abs(dxMm[i]! - dyMm[i]!);
    if (!Number.isFinite(mm) || !(weightsMm[i]! > 0)) continue;
    difference[i] = mm;
    moments.add(mm, weightsMm[i]!);
    diameter.add((dxMm[i]! + dyMm[i]!) / 2, weightsMm[i]!);
    if (mm > largestMm) {
      largestMm = mm;
      largestAtSample = i;
    }
  }
  if (largestAtSample < 0) return null;
  const tally = tallyDiameters(difference, weightsMm);
  const [p95] = quantiles(tally.cells, [0.95], tally.lengthsMm);
  return {
    meanMm: moments.mean,
    p95Mm: p95 / CELLS_A_MM,
    largestMm,
    largestAtSample,
    share: moments.mean / diameter.mean,
  };
}
