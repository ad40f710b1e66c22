import type { BatchEstimate } from './batch-estimate.ts';
import { longRunSpread } from './long-run-spread.ts';

/** With fewer independent pieces of strand than this, their spread says next to nothing about that of more strand. */
const INDEPENDENT_MIN = 2.5;
/**
 * Strand that by chance looks less correlated than it is also tends to spread less. With its correlation raised by this
 * many standard errors, 95 % intervals hold the true value in 95 of 100 runs eleven times as long as their correlation (simulated).
 */
const CORRELATION_ERRORS = 0.5;

/**
 * Widens the error of a standard deviation for strand whose diameter wanders over much of its length. Such strand spreads
 * less about its own mean than about the true one, and few squares are independent. The jackknife sees too little of
 * both, because the squares of a few long waves look alike.
 *
 * For normal values with autocovariance C_k, var(s²) = 2 Σ C_k²/n (Bayley & Hammersley 1946, J. R. Stat. Soc. Suppl. 8), and
 * E(s²) = σ² − Σ C_k/n (Anderson 1971, The Statistical Analysis of Time Series, ch. 8; from memory). Only the batch means
 * enter both sums, so that fast noise, which wanders little, adds little; the jackknife counts it.
 *
 * @param logSd estimate of the logarithm of the standard deviation
 * @param meansMm of the batches, of equal length and in order
 * @param sdMm standard deviation of all readings
 * @returns null where the strand is too short for its correlation
 */
export function widenForWander(logSd: BatchEstimate, meansMm: Float64Array, sdMm: number): BatchEstimate | null {
  const n = meansMm.length;
  const centre = meansMm.reduce((sum, mm) => sum + mm, 0) / n;
  const { sigma, sigmaOfSquares } = longRunSpread(
    meansMm.map((mm) => mm - centre),
    1,
    CORRELATION_ERRORS,
  );
  const independent = (2 * sdMm ** 4 * n) / sigmaOfSquares ** 2;
  if (independent < INDEPENDENT_MIN) return null;
  const missing = sigma ** 2 / (n * sdMm ** 2);
  const value = Math.log(sdMm) - Math.log(1 - Math.min(0.5, missing)) / 2 + 1 / (2 * independent);
  return {
    ...logSd,
    value: Math.max(logSd.value, value),
    // The standard error of half the logarithm of a chi-square value with that many degrees of freedom.
    standardError: Math.max(logSd.standardError, 1 / Math.sqrt(2 * (independent - 1))),
    degreesOfFreedom: Math.min(logSd.degreesOfFreedom, independent - 1),
  };
}
