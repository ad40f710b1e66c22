import { momentsOf } from './weighted-moments.ts';

/**
 * Autocorrelation of an evenly spaced series at a lag: Σ(y_i − m)(y_{i+lag} − m) / Σ(y_i − m)², the definition of the NIST
 * StRD for lag 1. Pairs with a gap (NaN) do not count. NaN for a series without spread.
 */
export function autocorrelation(values: ArrayLike<number>, lag = 1): number {
  if (!Number.isInteger(lag) || lag < 0)
    throw new RangeError(`a lag must be a whole number of samples from 0, not ${lag}`);
  const centred = centre(values);
  return centred === null ? Number.NaN : lagSum(centred.values, lag) / centred.sumSquares;
}

interface Centred {
  /** Gaps are zero: they add nothing to a sum of products. */
  readonly values: Float64Array;
  readonly count: number;
  readonly sumSquares: number;
}

function centre(values: ArrayLike<number>): Centred | null {
  const { mean, count } = momentsOf(values);
  const centred = new Float64Array(values.length);
  let sumSquares = 0;
  for (let i = 0; i < values.length; i++) {
    const value = values[i]!;
    if (!Number.isFinite(value)) continue;
    centred[i] = value - mean;
    sumSquares += (value - mean) * (value - mean);
  }
  return sumSquares > 0 ? { values: centred, count, sumSquares } : null;
}

function lagSum(centred: Float64Array, lag: number): number {
  let sum = 0;
  for (let i = lag; i < centred.length; i++) sum += centred[i]! * centred[i - lag]!;
  return sum;
}
