import { autocorrelation } from './autocorrelation.ts';
import type { Uncertain } from './differences.ts';

/** A value of a whole run, on the scale on which its error was reckoned. */
export interface BatchEstimate extends Uncertain {
  readonly stretches: number;
  /** How much a stretch still follows the one before it, −1 to 1. */
  readonly lag1: number;
}

/** Fewer stretches than this tell nothing of chance. */
const STRETCHES_MIN = 10;

/** Beyond this one stretch follows another so closely that their number says nothing any more. */
const LAG1_MAX = 0.8;

/**
 * A value of a run and its error, from stretches of the run in their order. Single readings follow each other, so a million
 * of them are worth far fewer; long stretches hardly do. Batch means, 10 to 30 of them (Schmeiser 1982, Oper. Res. 30), put
 * right for what correlation they still have, as of a first-order autoregression (Lada, Steiger & Wilson 2008, IIE Trans.
 * 40). For what is no mean, such as a standard deviation, the jackknife leaves out one stretch at a time (Tukey; Miller
 * 1974, Biometrika 61); of a mean it gives the batch means back.
 *
 * @param sums one a stretch, in order
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
  const follows = Math.min(LAG1_MAX, Math.max(0, (n * lag1 + 1) / (n - 4)));
  return {
    value,
    standardError: Math.sqrt((variance * (1 + follows)) / (1 - follows)),
    // What a variance of such a series is worth (Bayley & Hammersley 1946, J. R. Stat. Soc. Suppl. 8).
    degreesOfFreedom: Math.max(1, (n * (1 - follows ** 2)) / (1 + follows ** 2) - 1),
    stretches: n,
    lag1,
  };
}
