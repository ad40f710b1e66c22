import type { Uncertain } from './differences.ts';
import { longRunSpread } from './long-run-spread.ts';

/** A value of a whole run, corrected for bias, and its error. */
export interface BatchEstimate extends Uncertain {
  readonly stretches: number;
}

/** Fewer stretches than this say nothing about chance. */
const STRETCHES_MIN = 10;

/**
 * A value of a run and its error, from consecutive stretches of the run. Neighbouring readings are correlated, so a million
 * of them say far less than a million independent ones; long stretches are nearly independent. These are batch means, with
 * their error from the long-run spread, so that a wander over many stretches counts too. For values other than means, such as a standard
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
  const residuals = Float64Array.from(pseudo, (one) => one - centre);
  const variance = residuals.reduce((sum, one) => sum + one ** 2, 0) / (n - 1);
  if (!(variance > 0)) return { value, standardError: 0, degreesOfFreedom: n - 1, stretches: n };
  const { sigma } = longRunSpread(residuals, 1);
  const independent = Math.min(n, (n * variance) / sigma ** 2);
  return {
    // A spread about the mean of a short series is too small: the jackknife knows by how much if stretches are independent.
    value: value + (n / independent) * (centre - value),
    standardError: Math.sqrt(variance / independent),
    // Its error is an estimate of no more.
    degreesOfFreedom: Math.max(1, independent - 1),
    stretches: n,
  };
}
