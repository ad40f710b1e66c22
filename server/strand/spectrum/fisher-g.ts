import { gammaln } from 'simple-statistics';

export interface FisherG {
  /** Largest power over the sum of all. */
  readonly g: number;
  /** Largest power over the mean: Fisher's kappa. */
  readonly kappa: number;
  readonly index: number;
  /** Chance that white noise has a g this large. */
  readonly probability: number;
}

/**
 * Fisher's test for one hidden period in otherwise white noise (Fisher 1929, Proc. R. Soc. A 125): P(g > x) =
 * Σ_j (−1)^(j−1) C(m, j) (1 − jx)^(m−1). It needs the raw periodogram (no window) at the series' own frequencies. Real
 * strand noise is not white, so `spectrumPeaks` compares with the neighbourhood instead.
 */
export function fisherG(power: ArrayLike<number>): FisherG {
  let index = -1;
  let sum = 0;
  for (let i = 0; i < power.length; i++) {
    sum += power[i]!;
    if (index < 0 || power[i]! > power[index]!) index = i;
  }
  if (index < 0 || !(sum > 0)) return { g: Number.NaN, kappa: Number.NaN, index, probability: 1 };
  const g = power[index]! / sum;
  return { g, kappa: g * power.length, index, probability: fisherProbability(g, power.length) };
}

/** P(g > x) among m frequencies. */
export function fisherProbability(g: number, m: number): number {
  if (g >= 1) return 0;
  // Below this the terms of the alternating sum swell before they cancel; the limit law 1 − exp(−m e^(−mg)) takes over.
  if (m * (1 - g) ** (m - 1) > 5) return -Math.expm1(-m * Math.exp(-m * g));
  let probability = 0;
  for (let j = 1; j * g < 1 && j <= m; j++) {
    const size = Math.exp(gammaln(m + 1) - gammaln(j + 1) - gammaln(m - j + 1) + (m - 1) * Math.log1p(-j * g));
    probability += j % 2 === 1 ? size : -size;
    if (size < 1e-18 * Math.abs(probability)) break;
  }
  return Math.min(1, Math.max(0, probability));
}
