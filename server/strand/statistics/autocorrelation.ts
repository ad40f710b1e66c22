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

/** Number of independent samples that carry the same information as a series. */
export interface EffectiveSize {
  readonly count: number;
  /** For the mean: n / (1 + 2Σρ_k). */
  readonly forMean: number;
  /** For the standard deviation: n / (1 + 2Σρ_k²) (Bayley & Hammersley 1946, J. R. Stat. Soc. Suppl. 8). */
  readonly forSd: number;
  readonly lag1: number;
}

/**
 * Neighbouring readings are correlated, so n of them say less than n independent ones.
 *
 * The sums run up to the first lag at which the autocorrelation drops below its own noise, 2/√n. Beyond lag 16 they are
 * taken at lags that grow by an eighth, joined by the trapezoid rule, so a million samples need at most some fifty passes.
 * The result never exceeds n: negative correlation is not counted as a gain.
 */
export function effectiveSize(values: ArrayLike<number>): EffectiveSize {
  const centred = centre(values);
  if (centred === null) return { count: 0, forMean: 0, forSd: 0, lag1: Number.NaN };
  const { count, sumSquares } = centred;
  const noise = 2 / Math.sqrt(count);
  let sum = 0;
  let sumSquared = 0;
  let lag1 = 0;
  let lastLag = 0;
  let last = 1;
  for (let lag = 1; lag < centred.values.length; lag = lag < 16 ? lag + 1 : Math.ceil(lag * 1.125)) {
    const rho = lagSum(centred.values, lag) / sumSquares;
    if (lag === 1) lag1 = rho;
    if (rho <= noise) break;
    const width = lag - lastLag;
    // The points after the last lag up to this one: trapezoid rule, with the end point counted in full.
    sum += width === 1 ? rho : (width * (last + rho)) / 2 - last / 2 + rho / 2;
    sumSquared +=
      width === 1 ? rho * rho : (width * (last * last + rho * rho)) / 2 - (last * last) / 2 + (rho * rho) / 2;
    last = rho;
    lastLag = lag;
  }
  return {
    count,
    forMean: count / (1 + 2 * sum),
    forSd: count / (1 + 2 * sumSquared),
    lag1,
  };
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
