import {
  type Difference,
  holm,
  intervalOf,
  meanOfRepeats,
  oneAgainstSeveral,
  welch,
} from '../statistics/differences.ts';
import { compareRates } from '../statistics/poisson.ts';
import { MEASURE_KINDS, MEASURES, type MeasureKey } from './measures.ts';
import { clampToRange, fromScale, type RunFigures, type RunValue, toScale, valueOfRun } from './run-value.ts';
import { runsNeeded, sizeWorthSeeing, spreadBetweenRuns } from './runs-needed.ts';

/** What a difference is compared with: the variation within two single runs, their counts, or the spread between like runs. */
type Basis = 'stretches' | 'counts' | 'runs';
/** `unsure`: more than chance, but only if it were the only test. */
type Finding = 'differs' | 'unsure' | 'chance' | 'unknown';

export interface Comparison {
  /** Index of the group that is compared with the first one. */
  readonly group: number;
  /** A difference, or a factor where the measure is compared as one; NaN = not known. */
  readonly difference: number;
  readonly lower: number;
  readonly upper: number;
  readonly basis: Basis | null;
  /** p-value; `pAdjusted` is adjusted for all tests made at once. */
  readonly p: number | null;
  readonly pAdjusted: number | null;
  readonly finding: Finding;
  /**
   * Runs in each group that would show a difference worth seeing; with one run in each a lower limit. Infinity = more than
   * fifty; null = not known.
   */
  readonly runsNeeded: number | null;
}

export interface ComparedMeasure {
  readonly key: MeasureKey;
  /** One per run, in the order of the groups. */
  readonly runs: readonly (RunValue & { readonly runId: number; readonly group: number })[];
  /** One per group: the mean of its runs and, from two runs on, its confidence interval. */
  readonly groups: readonly {
    readonly value: number;
    readonly interval: { readonly lower: number; readonly upper: number } | null;
  }[];
  readonly comparisons: readonly Comparison[];
}

/** Significance level: where there is no difference, one is found in at most one of twenty cases. */
const ALPHA = 0.05;

/**
 * Compares groups of runs with the first group, measure by measure. Where a group has several runs, the spread between its
 * runs decides what is chance. With one run on each side only the variation within the runs is known, so a finding says
 * that these two runs differ, but not why.
 */
export function compareGroups(groups: readonly (readonly RunFigures[])[]): readonly ComparedMeasure[] {
  const nominalMm = groups.flat().find((run) => Number.isFinite(run.nominalMm))?.nominalMm ?? Number.NaN;
  const measures = MEASURES.map((key) => {
    const values = groups.map((runs, group) =>
      runs.map((run) => ({ ...valueOfRun(run, key), runId: run.runId, group })),
    );
    const [first = [], ...others] = values;
    return { key, values, comparisons: others.map((other) => compared(key, first, other, nominalMm)) };
  }).filter(({ values }) => values.flat().some(({ value }) => Number.isFinite(value)));
  const tests = measures.length * Math.max(1, groups.length - 1);
  const needed = (key: MeasureKey, compared: readonly (readonly RunValue[])[]) => {
    const size = sizeWorthSeeing(key);
    const spread = spreadBetweenRuns(key, compared, nominalMm);
    return size === null || spread === null ? null : runsNeeded(size, spread, ALPHA / tests);
  };
  const adjusted = holm(measures.flatMap(({ comparisons }) => comparisons.map(({ p }) => p)));
  return measures.map(({ key, values, comparisons }) => ({
    key,
    runs: values.flat(),
    groups: values.map((ofGroup) => groupValue(key, ofGroup, nominalMm)),
    comparisons: comparisons.map((one, i) => {
      const pAdjusted = adjusted.shift() ?? null;
      const [first = [], other = []] = [values[0], values[i + 1]];
      return {
        ...one,
        group: i + 1,
        pAdjusted,
        finding: findingOf(one.p, pAdjusted),
        runsNeeded: needed(key, [first, other]),
      };
    }),
  }));
}

type Compared = Omit<Comparison, 'group' | 'pAdjusted' | 'finding' | 'runsNeeded'>;

function compared(
  key: MeasureKey,
  first: readonly RunValue[],
  other: readonly RunValue[],
  nominalMm: number,
): Compared {
  const factor = MEASURE_KINDS[key].differsBy === 'factor';
  const [onlyFirst, onlyOther] = [only(first), only(other)];
  if (onlyFirst !== undefined && onlyOther !== undefined) return ofTwoRuns(onlyFirst, onlyOther, factor);
  const known = (runs: readonly RunValue[]) => runs.map(({ value }) => value).filter((value) => Number.isFinite(value));
  const [a, b] = [known(first), known(other)];
  // A rate of 0 has no logarithm: compare differences instead.
  const byFactor = factor && [...a, ...b].every((value) => value > 0);
  const scaled = (values: readonly number[]) =>
    values.map((value) => (byFactor ? toScale(key, value, nominalMm) : value));
  const [x, y] = [scaled(a), scaled(b)];
  const found = betweenRuns(x, y);
  const fromLog = (scaledDifference: number) => (byFactor ? Math.exp(scaledDifference) : scaledDifference);
  if (found === null) return { ...withoutInterval(meanOf(y) - meanOf(x), byFactor), basis: null };
  const { p } = found;
  const result = { difference: fromLog(found.difference), lower: fromLog(found.lower), upper: fromLog(found.upper) };
  if (!factor || byFactor) return { ...result, basis: 'runs', p };
  return { difference: meanOf(b) / meanOf(a), lower: Number.NaN, upper: Number.NaN, basis: 'runs', p };
}

function ofTwoRuns(first: RunValue, other: RunValue, factor: boolean): Compared {
  if (first.counted !== null && other.counted !== null) {
    const clumping = Math.max(first.counted.clumping, other.counted.clumping);
    const { ratio, lower, upper, p } = compareRates(first.counted, other.counted, clumping);
    return { difference: ratio, lower, upper, basis: 'counts', p };
  }
  const found = first.uncertain === null || other.uncertain === null ? null : welch(first.uncertain, other.uncertain);
  if (found === null) {
    const difference = factor ? other.value / first.value : other.value - first.value;
    // All stretches of both runs are equal, for instance with nothing to discard.
    const same = first.uncertain !== null && other.uncertain !== null && first.value === other.value;
    return {
      difference,
      lower: Number.NaN,
      upper: Number.NaN,
      basis: same ? 'stretches' : null,
      p: same ? 1 : null,
    };
  }
  const fromLog = (scaledDifference: number) => (factor ? Math.exp(scaledDifference) : scaledDifference);
  return {
    difference: fromLog(found.difference),
    lower: fromLog(found.lower),
    upper: fromLog(found.upper),
    basis: 'stretches',
    p: found.p,
  };
}

function betweenRuns(first: readonly number[], other: readonly number[]): Difference | null {
  const [onlyFirst, onlyOther] = [only(first), only(other)];
  if (onlyOther !== undefined) return oneAgainstSeveral(first, onlyOther);
  if (onlyFirst !== undefined) {
    const found = oneAgainstSeveral(other, onlyFirst);
    return found === null
      ? null
      : { ...found, difference: -found.difference, lower: -found.upper, upper: -found.lower, t: -found.t };
  }
  const [a, b] = [meanOfRepeats(first), meanOfRepeats(other)];
  return a === null || b === null ? null : welch(a, b);
}

/** The only element of a list of one; undefined for any other list. */
function only<T>(list: readonly T[]): T | undefined {
  return list.length === 1 ? list[0] : undefined;
}

function withoutInterval(scaledDifference: number, byFactor: boolean): Omit<Compared, 'basis'> {
  return {
    difference: byFactor ? Math.exp(scaledDifference) : scaledDifference,
    lower: Number.NaN,
    upper: Number.NaN,
    p: null,
  };
}

function findingOf(p: number | null, pAdjusted: number | null): Finding {
  if (p === null || pAdjusted === null) return 'unknown';
  if (pAdjusted < ALPHA) return 'differs';
  return p < ALPHA ? 'unsure' : 'chance';
}

function groupValue(key: MeasureKey, runs: readonly RunValue[], nominalMm: number): ComparedMeasure['groups'][number] {
  const known = runs.map(({ value }) => value).filter((value) => Number.isFinite(value));
  const scaled = known.map((value) => toScale(key, value, nominalMm));
  const useScale = scaled.every((value) => Number.isFinite(value));
  const repeats = meanOfRepeats(useScale ? scaled : known);
  if (repeats === null) return { value: known[0] ?? Number.NaN, interval: null };
  const back = (value: number) => (useScale ? fromScale(key, value, nominalMm) : value);
  const { lower, upper } = intervalOf(repeats);
  return {
    value: back(repeats.value),
    interval: { lower: clampToRange(key, back(lower)), upper: clampToRange(key, back(upper)) },
  };
}

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
