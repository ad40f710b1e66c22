import { betaQuantile, incompleteBeta } from '../../probability/beta.ts';
import { chiSquareQuantile, chiSquareTail } from '../../probability/distributions.ts';

/** A number of events, and the length or time over which they were counted. */
export interface Counted {
  readonly count: number;
  readonly exposure: number;
}

/**
 * Exact confidence interval of a Poisson count: χ²(α/2; 2k)/2 to χ²(1 − α/2; 2k + 2)/2 (Garwood 1936, Biometrika 28).
 * Zero events give 0 to 3.689 at 95 %.
 */
export function garwoodInterval(count: number, confidence = 0.95): { readonly lower: number; readonly upper: number } {
  if (!Number.isInteger(count) || count < 0)
    throw new RangeError(`a count must be a whole number from 0, not ${count}`);
  return countInterval(count, confidence);
}

/**
 * A rate with its interval. Events in clumps say less than as many independent ones: with `clumping` above 1, that many
 * events count as one (quasi-Poisson; McCullagh & Nelder 1989, Generalized Linear Models, 6.2.3).
 */
export function rateInterval(
  { count, exposure }: Counted,
  clumping = 1,
  confidence = 0.95,
): { readonly rate: number; readonly lower: number; readonly upper: number } {
  if (!(exposure > 0)) throw new RangeError(`the exposure of a rate must be above zero, not ${exposure}`);
  const { lower, upper } = countInterval(count / clumping, confidence);
  return { rate: count / exposure, lower: (lower * clumping) / exposure, upper: (upper * clumping) / exposure };
}

export interface RateComparison {
  /** Second rate over first; infinite or NaN where the first is 0. */
  readonly ratio: number;
  readonly lower: number;
  readonly upper: number;
  /** Chance of a difference at least as large, in either direction, if the rates are equal: twice the smaller tail. */
  readonly p: number;
}

/**
 * Exact comparison of two Poisson rates. Given the total number of events, the number in the second is binomial
 * (Przyborowski & Wilenski 1940, Biometrika 31); the interval of the ratio follows from Clopper & Pearson 1934.
 *
 * @param clumping for both, as in `rateInterval`
 */
export function compareRates(first: Counted, second: Counted, clumping = 1, confidence = 0.95): RateComparison {
  if (!(first.exposure > 0 && second.exposure > 0)) throw new RangeError('a rate needs an exposure above zero');
  const [x, y] = [first.count / clumping, second.count / clumping];
  const share = second.exposure / (first.exposure + second.exposure);
  const atLeast = y === 0 ? 1 : incompleteBeta(share, y, x + 1);
  const atMost = x === 0 ? 1 : 1 - incompleteBeta(share, y + 1, x);
  const miss = (1 - confidence) / 2;
  const ratioAt = (p: number) => (p / (1 - p)) * (first.exposure / second.exposure);
  return {
    ratio: second.count / second.exposure / (first.count / first.exposure),
    lower: y === 0 ? 0 : ratioAt(betaQuantile(miss, y, x + 1)),
    upper: x === 0 ? Number.POSITIVE_INFINITY : ratioAt(betaQuantile(1 - miss, y + 1, x)),
    p: Math.min(1, 2 * Math.min(atLeast, atMost)),
  };
}

export interface Clumping {
  /** Variance of the counts over their mean: 1 for events that come independently. */
  readonly index: number;
  /** Chance of an index at least as large for independent events. */
  readonly p: number;
}

/**
 * Whether events come in clumps: Fisher's index of dispersion, Σ(x − m)²/m against χ² with n − 1 degrees of freedom
 * (Fisher, Thornton & Mackenzie 1922, Ann. Appl. Biol. 9). Null with fewer events than places, which is too few to tell.
 *
 * @param counts in places of the same size
 */
export function clumpingOf(counts: readonly number[]): Clumping | null {
  const total = counts.reduce((sum, count) => sum + count, 0);
  const n = counts.length;
  if (n < 2 || total < n) return null;
  const mean = total / n;
  const chiSquare = counts.reduce((sum, count) => sum + (count - mean) ** 2, 0) / mean;
  return { index: chiSquare / (n - 1), p: chiSquareTail(chiSquare, n - 1) };
}

function countInterval(count: number, confidence: number): { readonly lower: number; readonly upper: number } {
  if (!(confidence > 0 && confidence < 1)) throw new RangeError(`a confidence of ${confidence} is not between 0 and 1`);
  const miss = (1 - confidence) / 2;
  return {
    lower: count === 0 ? 0 : chiSquareQuantile(miss, 2 * count) / 2,
    upper: chiSquareQuantile(1 - miss, 2 * count + 2) / 2,
  };
}
