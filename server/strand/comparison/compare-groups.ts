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
import { onScale, possible, type RunFigures, type RunValue, told, valueOfRun } from './run-value.ts';

/**
 * What a difference is judged by: the wander within the two single runs, what was counted in them, or how runs that were
 * prepared alike differ.
 */
type Basis = 'stretches' | 'counts' | 'runs';
/** `unsure`: it would be more than chance if nothing else had been asked. */
type Finding = 'differs' | 'unsure' | 'chance' | 'unknown';

export interface Comparison {
  /** Of the later group; it is compared with the first. */
  readonly group: number;
  /** As an amount, or as a factor where the measure differs by one; NaN = a side is not known, or there was none at all. */
  readonly difference: number;
  readonly lower: number;
  readonly upper: number;
  readonly basis: Basis | null;
  /** Chance of such a difference where there is none; `pAdjusted` put right for all that was asked at once. */
  readonly p: number | null;
  readonly pAdjusted: number | null;
  readonly finding: Finding;
}

export interface ComparedMeasure {
  readonly key: MeasureKey;
  /** One a run, in the order of the groups. */
  readonly runs: readonly (RunValue & { readonly runId: number; readonly group: number })[];
  /** One a group: mean of its runs and, from two on, the interval that holds what such runs give on average. */
  readonly groups: readonly {
    readonly value: number;
    readonly interval: { readonly lower: number; readonly upper: number } | null;
  }[];
  readonly comparisons: readonly Comparison[];
}

/** More than chance: such a difference, or a larger one, would come once in twenty times at most where there is none. */
const ALPHA = 0.05;

/**
 * Groups of runs beside the first of them, measure by measure. Where a side has two runs or more the run is the unit: how
 * runs that were prepared alike differ is what chance is judged by. Of one run each way only the wander within the runs is
 * known, so what is found then is that these two runs differ, never why.
 */
export function compareGroups(groups: readonly (readonly RunFigures[])[]): readonly ComparedMeasure[] {
  const nominalMm = groups.flat().find((run) => Number.isFinite(run.nominalMm))?.nominalMm ?? Number.NaN;
  const measures = MEASURES.map((key) => {
    const values = groups.map((runs) => runs.map((run) => valueOfRun(run, key)));
    return { key, values, comparisons: values.slice(1).map((later) => compared(key, values[0]!, later, nominalMm)) };
  }).filter(({ values }) => values.flat().some(({ value }) => Number.isFinite(value)));
  const adjusted = holm(measures.flatMap(({ comparisons }) => comparisons.map(({ p }) => p)));
  let next = 0;
  return measures.map(({ key, values, comparisons }) => ({
    key,
    runs: groups.flatMap((runs, group) => runs.map(({ runId }, i) => ({ ...values[group]![i]!, runId, group }))),
    groups: values.map((some) => groupValue(key, some, nominalMm)),
    comparisons: comparisons.map((one, i) => {
      const pAdjusted = adjusted[next++]!;
      return { ...one, group: i + 1, pAdjusted, finding: findingOf(one.p, pAdjusted) };
    }),
  }));
}

type Compared = Omit<Comparison, 'group' | 'pAdjusted' | 'finding'>;

function compared(
  key: MeasureKey,
  first: readonly RunValue[],
  later: readonly RunValue[],
  nominalMm: number,
): Compared {
  const factor = MEASURE_KINDS[key].differsBy === 'factor';
  if (first.length === 1 && later.length === 1) return ofTwoRuns(first[0]!, later[0]!, factor);
  const scaled = (some: readonly RunValue[]) =>
    some.map(({ value }) => value).filter((value) => Number.isFinite(value));
  const [a, b] = [scaled(first), scaled(later)];
  // A rate of 0 has no logarithm, so groups of rates differ by an amount.
  const byFactor = factor && [...a, ...b].every((value) => value > 0);
  const [x, y] = [a, b].map((some) => some.map((value) => (byFactor ? onScale(key, value, nominalMm) : value)));
  const found = betweenRuns(x!, y!);
  const plain = (differenceOf: number) => (byFactor ? Math.exp(differenceOf) : differenceOf);
  if (found === null) return { ...untold(meanOf(y!) - meanOf(x!), byFactor), basis: null };
  const { p } = found;
  const told = { difference: plain(found.difference), lower: plain(found.lower), upper: plain(found.upper) };
  if (!factor || byFactor) return { ...told, basis: 'runs', p };
  return { difference: meanOf(b) / meanOf(a), lower: Number.NaN, upper: Number.NaN, basis: 'runs', p };
}

function ofTwoRuns(first: RunValue, later: RunValue, factor: boolean): Compared {
  if (first.counted !== null && later.counted !== null) {
    const clumping = Math.max(first.counted.clumping, later.counted.clumping);
    const { ratio, lower, upper, p } = compareRates(first.counted, later.counted, clumping);
    return { difference: ratio, lower, upper, basis: 'counts', p };
  }
  const found = first.uncertain === null || later.uncertain === null ? null : welch(first.uncertain, later.uncertain);
  if (found === null) {
    const difference = factor ? later.value / first.value : later.value - first.value;
    // No stretch of either is different: nothing within tolerance on both sides, or nothing to discard.
    const same = first.uncertain !== null && later.uncertain !== null && first.value === later.value;
    return {
      difference,
      lower: Number.NaN,
      upper: Number.NaN,
      basis: same ? 'stretches' : null,
      p: same ? 1 : null,
    };
  }
  const plain = (differenceOf: number) => (factor ? Math.exp(differenceOf) : differenceOf);
  return {
    difference: plain(found.difference),
    lower: plain(found.lower),
    upper: plain(found.upper),
    basis: 'stretches',
    p: found.p,
  };
}

function betweenRuns(first: readonly number[], later: readonly number[]): Difference | null {
  if (first.length === 0 || later.length === 0) return null;
  if (later.length === 1) return oneAgainstSeveral(first, later[0]!);
  if (first.length === 1) {
    const found = oneAgainstSeveral(later, first[0]!);
    return found === null
      ? null
      : { ...found, difference: -found.difference, lower: -found.upper, upper: -found.lower, t: -found.t };
  }
  return welch(meanOfRepeats(first)!, meanOfRepeats(later)!);
}

function untold(differenceOf: number, byFactor: boolean): Omit<Compared, 'basis'> {
  return {
    difference: byFactor ? Math.exp(differenceOf) : differenceOf,
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
  if (known.length < 2) return { value: known[0] ?? Number.NaN, interval: null };
  const scaled = known.map((value) => onScale(key, value, nominalMm));
  const useScale = scaled.every((value) => Number.isFinite(value));
  const repeats = meanOfRepeats(useScale ? scaled : known)!;
  const back = (value: number) => (useScale ? told(key, value, nominalMm) : value);
  const { lower, upper } = intervalOf(repeats);
  return {
    value: back(repeats.value),
    interval: { lower: possible(key, back(lower)), upper: possible(key, back(upper)) },
  };
}

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
