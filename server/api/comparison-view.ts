import { isExample } from '../entities/run.ts';
import type { RunSummary } from '../monitor/run/run-summaries.ts';
import { Problem } from '../problem/problem.ts';
import { type ComparedMeasure, compareGroups } from '../strand/comparison/compare-groups.ts';
import { concludeComparison } from '../strand/comparison/conclusion.ts';
import { MEASURE_KINDS, VALUE_OF } from '../strand/comparison/measures.ts';
import { preparationDifferences } from '../strand/comparison/preparation.ts';
import { batchesOf, lumpClumping } from '../strand/comparison/run-value.ts';
import { sumOfStretches } from '../strand/comparison/stretch-sums.ts';
import { batchEstimate } from '../strand/statistics/batch-estimate.ts';
import { gaugeSteps } from '../strand/statistics/gauge-steps.ts';
import { type Bins, binsFor, type Histogram, histogram } from '../strand/statistics/histogram.ts';
import type { ComparedRun, ComparisonView, MeasureView } from './contract/comparison.ts';
import { limitsView } from './views.ts';

/** @throws Problem `bad-comparison` for strand of different nominal diameters */
export function comparisonView(groups: readonly (readonly RunSummary[])[], printer: number): ComparisonView {
  const all = groups.flat();
  const wound = all.filter(({ limits }) => limits !== null);
  const [first] = wound;
  const different = wound.find(({ figures }) => figures.nominalMm !== first?.figures.nominalMm);
  if (first !== undefined && different !== undefined) {
    throw new Problem(
      'bad-comparison',
      `Run ${different.run.id} made strand of ${different.figures.nominalMm} mm, run ${first.run.id} of ${first.figures.nominalMm} mm: they cannot be compared.`,
      'Choose runs of the same nominal diameter.',
      { pointer: '/groups' },
    );
  }
  const differences = preparationDifferences(groups.map((runs) => runs.map(({ preparation }) => preparation)));
  const measures = compareGroups(groups.map((runs) => runs.map(({ figures }) => figures)));
  const { preparation, result, limitations, nextStep } = concludeComparison(
    groups.map((runs, i) => ({
      name: groupName(runs, i),
      runs: runs.map(({ run }) => ({ runId: run.id, startedMs: run.startedMs, hasLot: run.lot !== null })),
    })),
    differences,
    measures,
  );
  const bins = commonBins(wound);
  return {
    printer,
    limits: first?.limits ? limitsView(first.limits) : null,
    groups: groups.map((runs, i) => ({ name: groupName(runs, i), runIds: runs.map(({ run }) => run.id) })),
    differences: differences.map(({ what, values, from }) => ({ name: what, values: [...values], from })),
    conclusion: { preparation, result, limitations: [...limitations], nextStep },
    cautions: cautionsOf(all),
    runs: groups.flatMap((runs, group) => runs.map((summary) => runView(summary, group, bins))),
    measures: measures.map(measureView),
  };
}

/** Common bins, so that the shapes of all runs can be compared; null = no single readings. */
function commonBins(wound: readonly RunSummary[]): Bins | null {
  const gauges = wound.flatMap(({ tally }) => (tally === null ? [] : [gaugeSteps(tally)]));
  const limits = wound[0]?.limits;
  return gauges.length === 0 || !limits ? null : binsFor(gauges, limits);
}

function runView({ run, figures, woundMm, coils, tally }: RunSummary, group: number, bins: Bins | null): ComparedRun {
  const sums = sumOfStretches(figures.stretches);
  const batches = batchesOf(figures.stretches);
  const mean = batchEstimate(batches, (some) => VALUE_OF.mean(sumOfStretches(some)));
  return {
    runId: run.id,
    group,
    startedMs: run.startedMs,
    endedMs: run.endedMs,
    timeZone: run.timeZone,
    example: isExample(run),
    lot: run.lot === null ? null : { ...run.lot },
    woundMm,
    measuredMm: sums.measuredMm,
    discardMm: sums.discardMm,
    keptMm: figures.keptMm,
    coils,
    longestCoilMm: figures.longestCoilMm,
    blobsAndNecks: sums.lumps,
    clumping: lumpClumping(figures.stretches)?.index ?? null,
    alarms: figures.alarms.callsAt.length,
    hours: figures.alarms.hours,
    unsteadiestZone: figures.heat?.zone ?? null,
    stretches: mean === null ? null : { count: batches.length, lengthMm: woundMm / batches.length },
    thinned: tally === null && woundMm > 0,
    histogram:
      tally === null || bins === null || !(sums.measuredMm > 0)
        ? null
        : histogramView(histogram(tally, bins), sums.measuredMm),
  };
}

function histogramView(
  { edgesMm, lengthsMm, belowMm, aboveMm }: Histogram,
  measuredMm: number,
): NonNullable<ComparedRun['histogram']> {
  return {
    edgesMm: Array.from(edgesMm, (mm) => mm),
    shares: Array.from(lengthsMm, (mm) => mm / measuredMm),
    outsideShare: (belowMm + aboveMm) / measuredMm,
  };
}

function measureView({ key, runs, groups, comparisons }: ComparedMeasure): MeasureView {
  return {
    key,
    ...MEASURE_KINDS[key],
    runs: runs.map(({ runId, group, value, interval }) => ({
      runId,
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
function cautionsOf(all: readonly RunSummary[]): string[] {
  const named = (some: readonly RunSummary[]) =>
    `${some.length === 1 ? 'Run' : 'Runs'} ${some.map(({ run }) => run.id).join(', ')}`;
  const cautions: string[] = [];
  const examples = all.filter(({ run }) => isExample(run));
  if (examples.length > 0)
    cautions.push(
      examples.length === 1
        ? `${named(examples)} is an example: it was simulated and says nothing about your line.`
        : `${named(examples)} are examples: they were simulated and say nothing about your line.`,
    );
  const going = all.filter(({ run }) => run.endedMs === null);
  if (going.length > 0)
    cautions.push(
      `${named(going)} ${going.length === 1 ? 'is' : 'are'} still running, so these are their values so far.`,
    );
  const empty = all.filter(({ limits }) => limits === null);
  if (empty.length > 0) cautions.push(`${named(empty)} wound nothing, so there is nothing to compare.`);
  const thinned = all.filter(({ tally, limits }) => tally === null && limits !== null);
  if (thinned.length > 0)
    cautions.push(
      `${named(thinned)} ${thinned.length === 1 ? 'no longer has its' : 'no longer have their'} single readings: spread, tolerance and out-of-roundness are not known there, and sections are those found while winding.`,
    );
  const bands = new Set(all.flatMap(({ limits }) => (limits === null ? [] : [limits.toleranceMm])));
  if (bands.size > 1)
    cautions.push('These runs are judged by different tolerances: choose a printer to judge them alike.');
  return cautions;
}

function intervalView(of: { readonly lower: number; readonly upper: number } | null) {
  if (of === null || !Number.isFinite(of.lower) || !Number.isFinite(of.upper)) return null;
  return { lower: of.lower, upper: of.upper };
}

/** "run 3", "group A". */
function groupName(runs: readonly RunSummary[], i: number): string {
  const [only, ...others] = runs;
  return only !== undefined && others.length === 0 ? `run ${only.run.id}` : `group ${String.fromCharCode(65 + i)}`;
}
