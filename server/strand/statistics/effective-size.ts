import { autocorrelation } from './autocorrelation.ts';
import { longRunSpread } from './long-run-spread.ts';
import { momentsOf } from './weighted-moments.ts';

/** Number of independent samples that carry the same information as a series. */
export interface EffectiveSize {
  readonly count: number;
  /** For the mean: variance of the values over that of their mean. */
  readonly forMean: number;
  /**
   * For the standard deviation: twice as many, as for values whose correlation falls evenly (Bayley & Hammersley 1946,
   * J. R. Stat. Soc. Suppl. 8), but never more than there are. Too few for a mixture of fast noise and slow wander.
   */
  readonly forSd: number;
  readonly lag1: number;
}

/** Neighbours in so many means are nearly independent on most spools. */
const MEANS = 100;

/**
 * Neighbouring readings are correlated, so n of them say less than n independent ones: by how much follows from the long-run
 * spread of longer means. The result never exceeds n: negative correlation is not counted as a gain.
 *
 * @param values evenly spaced; NaN = a gap
 */
export function effectiveSize(values: ArrayLike<number>): EffectiveSize {
  const { mean, count } = momentsOf(values);
  const residuals: number[] = [];
  const joined = Math.max(1, Math.floor(values.length / MEANS));
  let squares = 0;
  for (let from = 0; from + joined <= values.length; from += joined) {
    let sum = 0;
    let measured = 0;
    for (let i = from; i < from + joined; i++) {
      const residual = values[i]! - mean;
      if (!Number.isFinite(residual)) continue;
      squares += residual * residual;
      sum += residual;
      measured += 1;
    }
    if (measured > 0) residuals.push(sum / measured);
  }
  if (!(squares > 0)) return { count: 0, forMean: 0, forSd: 0, lag1: Number.NaN };
  const { sigma } = longRunSpread(Float64Array.from(residuals), 1);
  const forMean = Math.min(count, (squares / count / sigma ** 2) * residuals.length);
  return { count, forMean, forSd: Math.min(count, 2 * forMean), lag1: autocorrelation(values) };
}
