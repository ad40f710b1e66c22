import { studentHalfWidth } from '../../probability/student-t.ts';
import { MEASURE_KINDS, type MeasureKey } from './measures.ts';
import { type RunValue, toScale } from './run-value.ts';

/** A true difference is found in this share of comparisons. */
const POWER = 0.8;
/** More runs are not worth saying. */
export const RUNS_NEEDED_MAX = 50;

/**
 * Runs in each group that would show a true difference of a size four times in five, by a t test of the group means.
 * Infinity = more than fifty.
 *
 * @param spread standard deviation between runs made alike
 * @param alpha significance level of this one test
 */
export function runsNeeded(size: number, spread: number, alpha: number): number {
  for (let n = 2; n <= RUNS_NEEDED_MAX; n++) {
    const degrees = 2 * n - 2;
    const errors = studentHalfWidth(1 - alpha, degrees) + studentHalfWidth(2 * POWER - 1, degrees);
    if (errors * spread * Math.sqrt(2 / n) <= size) return n;
  }
  return Number.POSITIVE_INFINITY;
}

/** The difference that is worth seeing, on the scale of comparison; null = none is. */
export function sizeWorthSeeing(key: MeasureKey): number | null {
  const { worthSeeing, differsBy } = MEASURE_KINDS[key];
  return worthSeeing === null ? null : differsBy === 'factor' ? Math.log(worthSeeing) : worthSeeing;
}

/**
 * Spread between runs made alike, on the scale of comparison, as far as it shows: of the runs within each group, but no less
 * than by chance within a run. For one run in each group that is all that is known, and a lower limit. null = not known.
 */
export function spreadBetweenRuns(
  key: MeasureKey,
  groups: readonly (readonly RunValue[])[],
  nominalMm: number,
): number | null {
  const all = groups.flat();
  // Half of nothing is not worth seeing.
  if (all.every(({ counted }) => counted?.count === 0)) return null;
  const chance = all.flatMap(({ counted, uncertain }) => {
    // A rate of 0 has no logarithm: half an event stands for none.
    if (counted !== null) return [counted.clumping / Math.max(0.5, counted.count)];
    return uncertain === null || uncertain.standardError === 0 ? [] : [uncertain.standardError ** 2];
  });
  let squares = 0;
  let degrees = 0;
  for (const runs of groups) {
    const values = runs.map(({ value }) => toScale(key, value, nominalMm)).filter((value) => Number.isFinite(value));
    const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
    squares += values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
    degrees += Math.max(0, values.length - 1);
  }
  if (chance.length === 0 && !(squares > 0)) return null;
  const within = chance.length === 0 ? 0 : chance.reduce((sum, one) => sum + one, 0) / chance.length;
  return Math.sqrt(Math.max(within, degrees === 0 ? 0 : squares / degrees));
}
