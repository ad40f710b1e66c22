import { Problem } from '../problem/problem.ts';
import { capital, listed } from '../problem/sentence.ts';
import { type ComparedMeasure, compareGroups } from '../strand/comparison/compare-groups.ts';
import { concludeComparison } from '../strand/comparison/conclusion.ts';
import { MEASURE_KINDS } from '../strand/comparison/measures.ts';
import { preparationDifferences } from '../strand/comparison/preparation.ts';
import { gaugeSteps } from '../strand/statistics/gauge-steps.ts';
import { binsFor, type Histogram, histogram } from '../strand/statistics/histogram.ts';
import type { ComparedRun, ComparisonView, MeasureView } from './contract/comparison.ts';
import type { LimitsView } from './contract/runs-and-spools.ts';
import { tallyOf, valuesOf } from './run-summary-view.ts';
import type { SummarisedRun } from './runs-of-lines.ts';

/**
 * @param notAnswered runs of other lines that are missing, and why
 * @throws Problem `bad-comparison` for strand of different nominal diameters
 */
export function comparisonView(
  groups: readonly (readonly SummarisedRun[])[],
  printer: number,
  notAnswered: readonly string[],
): ComparisonView {
  const all = groups.flat();
  const wound = all.filter(({ summary }) => summary.limits !== null);
  const limits = wound[0]?.summary.limits ?? null;
  const different = wound.find(({ summary }) => summary.limits?.nominalMm !== limits?.nominalMm);
  if (different !== undefined) {
    throw new Problem(
      'bad-comparison',
      `${capital(different.name)} made strand of ${different.summary.limits?.nominalMm} mm, ${wound[0]?.name} of ${limits?.nominalMm} mm: they cannot be compared.`,
      'Choose runs of the same nominal diameter.',
      { pointer: '/groups' },
    );
  }
  const differences = preparationDifferences(
    groups.map((runs) => runs.map(({ line, lineName, summary }) => ({ ...summary, line, lineName }))),
  );
  const measures = compareGroups(
    groups.map((runs) =>
      runs.map(({ line, summary }) => ({
        line,
        nominalMm: summary.limits?.nominalMm ?? Number.NaN,
        values: valuesOf(summary),
      })),
    ),
  );
  const { preparation, result, limitations, nextStep } = concludeComparison(
    groups.map((runs, i) => ({
      name: groupName(runs, i),
      runs: runs.map(({ name, line, summary: { startedMs, lot } }) => ({
        name,
        line,
        startedMs,
        hasLot: lot !== null,
      })),
    })),
    differences,
    measures,
  );
  const histograms = histogramsOf(all, limits);
  return {
    printer,
    limits,
    groups: groups.map((runs, i) => ({ name: groupName(runs, i), runs: runs.map(({ ref }) => ref) })),
    notAnswered: [...notAnswered],
    differences: differences.map(({ what, values, from }) => ({ name: what, values: [...values], from })),
    conclusion: { preparation, result, limitations: [...limitations], nextStep },
    cautions: cautionsOf(all),
    runs: groups.flatMap((runs, group) =>
      runs.map(({ ref, name, address, summary }) => ({
        ...summary,
        ref,
        name,
        address,
        group,
        histogram: histograms.get(ref) ?? null,
      })),
    ),
    measures: measures.map((measure) => measureView(measure, all)),
  };
}

type HistogramView = NonNullable<ComparedRun['histogram']>;

/** With common bins, so that the shapes of all runs can be compared. Runs without single readings have none. */
function histogramsOf(all: readonly SummarisedRun[], limits: LimitsView | null): ReadonlyMap<string, HistogramView> {
  const tallies = all.flatMap(({ ref, summary }) => {
    const tally = tallyOf(summary);
    return tally === null || !(summary.measuredMm > 0) ? [] : [{ ref, tally, measuredMm: summary.measuredMm }];
  });
  if (tallies.length === 0 || limits === null) return new Map();
  const bins = binsFor(
    tallies.map(({ tally }) => gaugeSteps(tally)),
    limits,
  );
  return new Map(tallies.map(({ ref, tally, measuredMm }) => [ref, histogramView(histogram(tally, bins), measuredMm)]));
}

function histogramView({ edgesMm, lengthsMm, belowMm, aboveMm }: Histogram, measuredMm: number): HistogramView {
  return {
    edgesMm: Array.from(edgesMm, (mm) => mm),
    shares: Array.from(lengthsMm, (mm) => mm / measuredMm),
    outsideShare: (belowMm + aboveMm) / measuredMm,
  };
}

function measureView(
  { key, runs, groups, comparisons }: ComparedMeasure,
  all: readonly Pick<SummarisedRun, 'name'>[],
): MeasureView {
  return {
    key,
    ...MEASURE_KINDS[key],
    runs: runs.map(({ group, value, interval }, i) => ({
      name: all[i]!.name,
      group,
      value,
      interval: intervalView(interval),
    })),
    groups: groups.map(({ value, interval }) => ({ value, interval: intervalView(interval) })),
    comparisons: comparisons.map(({ group, difference, lower, upper, basis, p, pAdjusted, finding, ...more }) => ({
      group,
      difference,
      interval: intervalView({ lower, upper }),
      basis,
      p,
      pAdjusted,
      finding,
      runsNeeded: more.runsNeeded !== null && Number.isFinite(more.runsNeeded) ? more.runsNeeded : null,
    })),
  };
}

/** What limits the reliability of the comparison. */
function cautionsOf(all: readonly SummarisedRun[]): string[] {
  const some = (
    is: (summary: SummarisedRun['summary']) => boolean,
    sentence: (names: string, one: boolean) => string,
  ) => {
    const names = all.filter(({ summary }) => is(summary)).map(({ name }) => name);
    return names.length === 0 ? [] : [sentence(capital(listed(names)), names.length === 1)];
  };
  const bands = new Set(all.flatMap(({ summary: { limits } }) => (limits === null ? [] : [limits.toleranceMm])));
  return [
    ...some(
      ({ example }) => example,
      (names, one) =>
        one
          ? `${names} is an example: it was simulated and says nothing about your line.`
          : `${names} are examples: they were simulated and say nothing about your line.`,
    ),
    ...some(
      ({ endedMs }) => endedMs === null,
      (names, one) => `${names} ${one ? 'is' : 'are'} still running, so these are the values so far.`,
    ),
    ...some(
      ({ limits }) => limits === null,
      (names) => `${names} wound nothing, so there is nothing to compare.`,
    ),
    ...some(
      ({ thinned, limits }) => thinned && limits !== null,
      (names, one) =>
        `${names} ${one ? 'no longer has its' : 'no longer have their'} single readings: spread, tolerance and out-of-roundness are not known there, and the marked stretches are those found while winding.`,
    ),
    ...(bands.size > 1 ? ['These runs are judged by different tolerances: choose a printer to judge them alike.'] : []),
  ];
}

function intervalView(of: { readonly lower: number; readonly upper: number } | null) {
  if (of === null || !Number.isFinite(of.lower) || !Number.isFinite(of.upper)) return null;
  return { lower: of.lower, upper: of.upper };
}

/** "run 3", "group A". */
function groupName([only, ...others]: readonly SummarisedRun[], i: number): string {
  return only !== undefined && others.length === 0 ? only.name : `group ${String.fromCharCode(65 + i)}`;
}
