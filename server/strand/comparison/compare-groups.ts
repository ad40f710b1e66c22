import {
  type Difference,
  holm,
  intervalOf,
  meanOfRepeats,
  oneAgainstSeveral,
  type Uncertain,
  welch,
} from '../statistics/differences.ts';
import { compareRates } from '../statistics/poisson.ts';
import { compareWithinLines, groupsLinkedWithFirst, linesOf, meansOfLines, type OnLine } from './groups-on-lines.ts';
import { MEASURE_KINDS, MEASURES, type MeasureKey } from './measures.ts';
import { clampToRange, fromScale, type RunValue, type RunValues, toScale } from './run-value.ts';
import { runsNeeded, sizeWorthSeeing, spreadBetweenRuns } from './runs-needed.ts';

/**
 * What a difference is compared with: the variation within two single runs, their counts, or the spread between like runs or
 * between lines.
 */
type Basis = 'stretches' | 'counts' | 'runs' | 'lines';

/** What is compared of a run. */
export interface ComparedRun extends OnLine {
  readonly nominalMm: number;
  readonly values: RunValues;
}

type Value = RunValue & OnLine;
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
  readonly runs: readonly (RunValue & { readonly group: number })[];
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
 * that these two runs differ, but not why. Runs of one line are alike, so groups that share lines are compared within them.
 */
export function compareGroups(groups: readonly (readonly ComparedRun[])[]): readonly ComparedMeasure[] {
  const nominalMm = groups.flat().find((run) => Number.isFinite(run.nominalMm))?.nominalMm ?? Number.NaN;
  const measures = MEASURES.map((key) => {
    const values = groups.map((runs, group) =>
      runs.map(({ values: { [key]: value }, line }) => ({ ...value, line, group })),
    );
    return { key, values, ...comparedMeasure(key, values, nominalMm) };
  }).filter(({ values }) => values.flat().some(({ value }) => Number.isFinite(value)));
  const tests = measures.length * Math.max(1, groups.length - 1);
  const needed = (key: MeasureKey, compared: readonly (readonly Value[])[]) => {
    // More runs never show whether it is the lines that differ.
    if (groupsLinkedWithFirst(compared).size < compared.length) return null;
    const size = sizeWorthSeeing(key);
    const alike = compared.flatMap((runs) => linesOf(runs).map((line) => runs.filter((run) => run.line === line)));
    const spread = spreadBetweenRuns(key, alike, nominalMm);
    return size === null || spread === null ? null : runsNeeded(size, spread, ALPHA / tests);
  };
  const adjusted = holm(measures.flatMap(({ comparisons }) => comparisons.map(({ p }) => p)));
  return measures.map(({ key, values, means, comparisons }) => ({
    key,
    runs: values.flat(),
    groups: means,
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

/** The means of all groups, and how each later one differs from the first. */
function comparedMeasure(
  key: MeasureKey,
  groups: readonly (readonly Value[])[],
  nominalMm: number,
): { readonly means: ComparedMeasure['groups']; readonly comparisons: readonly Compared[] } {
  const known = groups.map((runs) => runs.filter(({ value }) => Number.isFinite(value)));
  const linked = [...groupsLinkedWithFirst(known)].sort((a, b) => a - b);
  const onLines = linked.map((i) => known[i]!);
  const isWithinLines = linked.length > 1 && linesOf(onLines.flat()).length > 1;
  const scale = scaleFor(key, onLines.flat(), nominalMm);
  const scaled = onLines.map((runs) => runs.map(({ line, value }) => ({ line, value: scale.to(value) })));
  const found = isWithinLines ? compareWithinLines(scaled) : null;
  return {
    means: known.map((runs, i) =>
      found === null || !linked.includes(i)
        ? groupValue(key, runs, nominalMm)
        : estimated(key, found.mean(linked.indexOf(i)), scale),
    ),
    comparisons: groups.slice(1).map((other, i) => {
      const isPair = groups[0]!.length === 1 && other.length === 1;
      if (!isWithinLines || !linked.includes(i + 1) || isPair) return compared(key, groups[0]!, other, nominalMm);
      if (found === null) return shown(withoutInterval(Number.NaN), scale, Number.NaN, null);
      return shown(found.difference(linked.indexOf(i + 1)), scale, found.mean(0).value, 'runs');
    }),
  };
}

/** Groups of one line, or on different lines: then the line is the unit, unless each was made on a single one. */
function compared(key: MeasureKey, first: readonly Value[], other: readonly Value[], nominalMm: number): Compared {
  const [onlyFirst, onlyOther] = [only(first), only(other)];
  if (onlyFirst !== undefined && onlyOther !== undefined)
    return ofTwoRuns(onlyFirst, onlyOther, MEASURE_KINDS[key].differsBy === 'factor');
  const known = [first, other].map((runs) => runs.filter(({ value }) => Number.isFinite(value)));
  const scale = scaleFor(key, known.flat(), nominalMm);
  const byLine = known.some((runs) => linesOf(runs).length > 1);
  const [x = [], y = []] = known.map((runs) => unitsOf(runs, scale, byLine));
  const found = betweenRuns(x, y);
  const basis = byLine ? 'lines' : 'runs';
  return shown(found ?? withoutInterval(meanOf(y) - meanOf(x)), scale, meanOf(x), found === null ? null : basis);
}

function unitsOf(runs: readonly Value[], scale: Scale, byLine: boolean): readonly number[] {
  const scaled = runs.map(({ line, value }) => ({ line, value: scale.to(value) }));
  return byLine ? meansOfLines(scaled) : scaled.map(({ value }) => value);
}

/** How values of a measure are compared. */
interface Scale {
  readonly differsBy: 'amount' | 'logarithm' | 'ratio';
  to(value: number): number;
  from(scaled: number): number;
}

function scaleFor(key: MeasureKey, runs: readonly RunValue[], nominalMm: number): Scale {
  const isFactor = MEASURE_KINDS[key].differsBy === 'factor';
  // A rate of 0 has no logarithm: compare differences instead.
  if (isFactor && runs.some(({ value }) => !(value > 0)))
    return { differsBy: 'ratio', to: (value) => value, from: (value) => value };
  return {
    differsBy: isFactor ? 'logarithm' : 'amount',
    to: (value) => toScale(key, value, nominalMm),
    from: (scaled) => fromScale(key, scaled, nominalMm),
  };
}

type Tested = Pick<Difference, 'difference' | 'lower' | 'upper'> & { readonly p: number | null };

/** @param first mean of the first group on the scale of comparison */
function shown(found: Tested, { differsBy }: Scale, first: number, basis: Basis | null): Compared {
  const { difference, lower, upper, p } = found;
  if (differsBy === 'amount') return { difference, lower, upper, basis, p };
  if (differsBy === 'logarithm')
    return { difference: Math.exp(difference), lower: Math.exp(lower), upper: Math.exp(upper), basis, p };
  return { difference: Math.max(0, 1 + difference / first), lower: Number.NaN, upper: Number.NaN, basis, p };
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

function withoutInterval(difference: number): Tested {
  return { difference, lower: Number.NaN, upper: Number.NaN, p: null };
}

function findingOf(p: number | null, pAdjusted: number | null): Finding {
  if (p === null || pAdjusted === null) return 'unknown';
  if (pAdjusted < ALPHA) return 'differs';
  return p < ALPHA ? 'unsure' : 'chance';
}

type Mean = ComparedMeasure['groups'][number];

function groupValue(key: MeasureKey, known: readonly Value[], nominalMm: number): Mean {
  const scale = scaleFor(key, known, nominalMm);
  const repeats = meanOfRepeats(unitsOf(known, scale, linesOf(known).length > 1));
  return repeats === null ? { value: known[0]?.value ?? Number.NaN, interval: null } : estimated(key, repeats, scale);
}

function estimated(key: MeasureKey, mean: Uncertain, scale: Scale): Mean {
  const { lower, upper } = intervalOf(mean);
  return {
    value: clampToRange(key, scale.from(mean.value)),
    interval: { lower: clampToRange(key, scale.from(lower)), upper: clampToRange(key, scale.from(upper)) },
  };
}

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
