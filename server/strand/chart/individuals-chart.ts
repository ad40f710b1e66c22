import { D2, D4 } from './chart-constants.ts';

export interface IndividualsChart {
  readonly centre: number;
  readonly sigma: number;
  readonly upper: number;
  readonly lower: number;
  /** Mean of the moving ranges of two successive values. */
  readonly meanMovingRange: number;
  readonly movingRangeUpper: number;
  /** One per value; NaN at the first value and next to a gap. */
  readonly movingRanges: Float64Array;
  /** Indices of values beyond the limits. */
  readonly beyond: readonly number[];
  /** Indices of moving ranges beyond their limit. */
  readonly rangesBeyond: readonly number[];
}

/**
 * Chart of individuals and moving ranges: centre ± 3σ with σ = mean moving range / d2
 * (NIST/SEMATECH e-Handbook 6.3.2.2).
 *
 * @param values NaN = a gap; no range is taken across it
 */
export function individualsChart(values: ArrayLike<number>): IndividualsChart {
  const movingRanges = new Float64Array(values.length).fill(Number.NaN);
  let sum = 0;
  let count = 0;
  let rangeSum = 0;
  let ranges = 0;
  for (let i = 0; i < values.length; i++) {
    if (!Number.isFinite(values[i]!)) continue;
    sum += values[i]!;
    count += 1;
    const range = i === 0 ? Number.NaN : Math.abs(values[i]! - values[i - 1]!);
    if (!Number.isFinite(range)) continue;
    movingRanges[i] = range;
    rangeSum += range;
    ranges += 1;
  }
  const centre = sum / count;
  const meanMovingRange = rangeSum / ranges;
  const sigma = meanMovingRange / D2;
  const upper = centre + 3 * sigma;
  const lower = centre - 3 * sigma;
  const movingRangeUpper = D4 * meanMovingRange;
  const beyond: number[] = [];
  const rangesBeyond: number[] = [];
  for (let i = 0; i < values.length; i++) {
    if (values[i]! > upper || values[i]! < lower) beyond.push(i);
    if (movingRanges[i]! > movingRangeUpper) rangesBeyond.push(i);
  }
  return {
    centre,
    sigma,
    upper,
    lower,
    meanMovingRange,
    movingRangeUpper,
    movingRanges,
    beyond,
    rangesBeyond,
  };
}
