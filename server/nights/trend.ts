import { studentHalfWidth } from '../probability/student-t.ts';
import { fitRegression } from '../strand/statistics/regression.ts';
import type { Estimate } from './effects.ts';

/** A figure of each night, in the order of the nights. */
export interface Figure {
  readonly values: readonly number[];
  /** For counts per 100 m: the strand of each night that they were counted in, in 100 m. Absent = a plain value. */
  readonly exposure?: readonly number[];
}

/** Nights that are alike, as far as can be shown, and their common level with its 95 % interval. */
export interface Period {
  /** Indexes of its first and last night. */
  readonly from: number;
  readonly to: number;
  /** null = too few nights, or no event at all, for an interval. */
  readonly level: Estimate | null;
}

export interface Trend {
  /** Chance of so large a change in nights that are alike, corrected for the number of figures; 1 = too few nights. */
  readonly p: number;
  /** One = no change is shown. */
  readonly periods: readonly Period[];
}

/** Of all years in which nothing changes, at most this share shows a change in any figure. */
const ALPHA = 0.01;
const CONFIDENCE = 0.95;
const SHUFFLES = 4999;
/** After so many orders with as large a change, chance is the answer, and it is known well enough. */
const AS_LARGE_ENOUGH = 20;
/** Fewer nights, however different, could have come in this order by chance. */
export function nightsNeeded(figures: number): number {
  let nights = 2;
  while ((2 * figures) / choose(nights, Math.floor(nights / 2)) > ALPHA) nights++;
  return nights;
}

/** Where each figure changed for good, told from chance. @param figures all of the same nights */
export function trendsOf(figures: readonly Figure[]): readonly Trend[] {
  return figures.map((figure) => {
    const whole = { from: 0, to: figure.values.length - 1 };
    const first = strongestChange(figure.values);
    const p = Math.min(1, first.p * figures.length);
    const periods = p > ALPHA ? [whole] : split(figure.values, whole, figures.length);
    return { p, periods: periods.map((period) => ({ ...period, level: levelOf(figure, period) })) };
  });
}

interface Stretch {
  readonly from: number;
  readonly to: number;
}

/** Divides a period while a change within it is shown; each level halves the chance that is allowed. */
function split(values: readonly number[], { from, to }: Stretch, tests: number): Stretch[] {
  const { p, after } = strongestChange(values.slice(from, to + 1));
  if (p * tests > ALPHA) return [{ from, to }];
  return [
    ...split(values, { from, to: from + after - 1 }, 2 * tests),
    ...split(values, { from: from + after, to }, 2 * tests),
  ];
}

/**
 * How much the ranks change for good (Pettitt 1979, Applied Statistics 28), and the chance of that if all orders of
 * the nights are equally likely: a permutation test, which holds for few nights and equal values too. It ends early where the
 * change is nothing rare (sequential Monte Carlo test; Besag & Clifford 1991, Biometrika 78).
 * @returns `after`: index of the first night after the change
 */
export function strongestChange(values: readonly number[]): {
  readonly p: number;
  readonly after: number;
  readonly statistic: number;
} {
  const ranks = ranksOf(values);
  const statistic = pettitt(ranks);
  const after = bestSplit(ranks);
  if (statistic === 0) return { p: 1, after, statistic };
  const random = repeatableChance();
  const shuffled = [...ranks];
  let asLarge = 0;
  for (let round = 1; round <= SHUFFLES; round++) {
    for (let i = shuffled.length - 1; i > 0; i--) {
      const j = Math.floor(random() * (i + 1));
      [shuffled[i], shuffled[j]] = [shuffled[j]!, shuffled[i]!];
    }
    if (pettitt(shuffled) >= statistic) asLarge++;
    if (asLarge === AS_LARGE_ENOUGH) return { p: asLarge / round, after, statistic };
  }
  return { p: (asLarge + 1) / (SHUFFLES + 1), after, statistic };
}

/** Half the largest sum of signs between the nights before and after. @param ranks with the mean rank 0 */
function pettitt(ranks: readonly number[]): number {
  let [sum, largest] = [0, 0];
  for (const rank of ranks) {
    sum += rank;
    largest = Math.max(largest, Math.abs(sum));
  }
  return largest;
}

/** The split with the least squares of the ranks about the mean of each side: Pettitt's own is drawn to the middle. */
function bestSplit(ranks: readonly number[]): number {
  let [sum, best, after] = [0, 0, 0];
  for (let i = 1; i < ranks.length; i++) {
    sum += ranks[i - 1]!;
    const explained = sum ** 2 / (i * (ranks.length - i));
    if (explained > best + 1e-9) [best, after] = [explained, i];
  }
  return after;
}

/** Ranks about their mean; equal values share one. */
function ranksOf(values: readonly number[]): readonly number[] {
  const order = values.toSorted((a, b) => a - b);
  return values.map((value) => (order.indexOf(value) + order.lastIndexOf(value) - values.length + 1) / 2);
}

/** The same nights always get the same answer: a linear congruential generator (Numerical Recipes, "ranqd1"; from memory). */
function repeatableChance(): () => number {
  let state = 1;
  return () => {
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0;
    return state / 2 ** 32;
  };
}

function levelOf({ values, exposure }: Figure, { from, to }: Stretch): Estimate | null {
  const some = values.slice(from, to + 1);
  const strand = exposure?.slice(from, to + 1);
  const y = strand === undefined ? some : some.map((rate, i) => rate * strand[i]!);
  const fit = fitRegression(
    some.map(() => [1]),
    { y, exposure: strand ?? some.map(() => 1), family: strand === undefined ? 'normal' : 'count' },
    [Number.POSITIVE_INFINITY],
  );
  if (fit === null) return null;
  const middle = fit.coefficients[0]!;
  const half = studentHalfWidth(CONFIDENCE, fit.degreesOfFreedom) * Math.sqrt(fit.covariance[0]![0]!);
  const scale = strand === undefined ? (x: number) => x : Math.exp;
  return { value: scale(middle), lower: scale(middle - half), upper: scale(middle + half) };
}

function choose(n: number, k: number): number {
  let ways = 1;
  for (let i = 1; i <= k; i++) ways = (ways * (n - k + i)) / i;
  return ways;
}
