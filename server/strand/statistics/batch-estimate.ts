import { autocorrelation } from './autocorrelation.ts';
import type { Uncertain } from './differences.ts';

/** A value of a whole run, on the scale on which its error was calculated. */
export interface BatchEstimate extends Uncertain {
  readonly stretches: number;
  /** Correlation of a stretch with the one before it, −1 to 1. */
  readonly lag1: number;
}

/** Fewer stretches than this say nothing about chance. */
const STRETCHES_MIN = 10;

/** A higher correlation would leave the number of stretches without meaning. */
const LAG1_MAX = 0.8;

/**
 * A value of a run and its error, from consecutive stretches of the run. Neighbouring readings are correlated, so a million
 * of them say far less than a million independent ones; long stretches are nearly independent. This is the method of batch
 * means with 10 to 30 batches (Schmeiser 1982, Oper. Res. 30), corrected for their remaining correlation as in a
 * first-order autoregression (Lada, Steiger & Wilson 2008, IIE Trans. 40). For values other than means, such as a standard
 * deviation, the jackknife leaves out one stretch at a time (Tukey; Miller 1974, Biometrika 61); for a mean it is the same
 * as batch means.
 *
 * @param sums one per stretch, in order
 * @param figure the value of several stretches together
 * @returns null where there are too few stretches, or the value is not finite with any one of them left out
 */
export function batchEstimate<T>(sums: readonly T[], figure: (some: readonly T[]) => number): BatchEstimate | null {
  const n = sums.length;
  if (n < STRETCHES_MIN) return null;
  const value = figure(sums);
  const pseudo = sums.map((_, i) => n * value - (n - 1) * figure(sums.toSpliced(i, 1)));
  if (!Number.isFinite(value) || pseudo.some((one) => !Number.isFinite(one))) return null;
  const centre = pseudo.reduce((sum, one) => sum + one, 0) / n;
  const variance = pseudo.reduce((sum, one) => sum + (one - centre) ** 2, 0) / (n - 1) / n;
  if (!(variance > 0)) return { value, standardError: 0, degreesOfFreedom: n - 1, stretches: n, lag1: 0 };
  const lag1 = autocorrelation(pseudo);
  // A short series looks less correlated than it is, by about (1 + 4ρ)/n (Kendall 1954, Biometrika 41).
  const rho = Math.min(LAG1_MAX, Math.max(0, (n * lag1 + 1) / (n - 4)));
  return {
    value,
    standardError: Math.sqrt((variance * (1 + rho)) / (1 - rho)),
    // Degrees of freedom of the variance of such a series (Bayley & Hammersley 1946, J. R. Stat. Soc. Suppl. 8).
    degreesOfFreedom: Math.max(1, (n * (1 - rho ** 2)) / (1 + rho ** 2) - 1),
    stretches: n,
    lag1,
  };
}
