import { isExample } from '../entities/run.ts';
import type { RunSummary } from '../monitor/run/run-summaries.ts';
import { MEASURES, VALUE_OF } from '../strand/comparison/measures.ts';
import { batchesOf, lumpClumping, type RunValue, type RunValues, valuesOfRun } from '../strand/comparison/run-value.ts';
import { sumOfStretches } from '../strand/comparison/stretch-sums.ts';
import { batchEstimate } from '../strand/statistics/batch-estimate.ts';
import type { DiameterTally } from '../strand/statistics/diameter-tally.ts';
import type { RunSummaryView } from './contract/comparison.ts';
import { limitsView } from './views.ts';

/** What a comparison needs to know of a run, in a form that another line can be sent. */
export function runSummaryView({
  run,
  figures,
  woundMm,
  coils,
  tally,
  limits,
  preparation,
}: RunSummary): RunSummaryView {
  const sums = sumOfStretches(figures.stretches);
  const batches = batchesOf(figures.stretches);
  const mean = batchEstimate(batches, (some) => VALUE_OF.mean(sumOfStretches(some)));
  const values = valuesOfRun(figures);
  return {
    runId: run.id,
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
    limits: limits === null ? null : limitsView(limits),
    setpointsC: [...preparation.setpointsC],
    speedMmPerS: preparation.speedMmPerS,
    screwTurnsPerMin: preparation.screwTurnsPerMin,
    values: MEASURES.map((key) => ({ key, ...valueView(values[key]) })),
    tally: tally && { cells: [...tally.cells], lengthsMm: [...tally.lengthsMm], readings: [...tally.readings] },
  };
}

type ValueView = Omit<RunSummaryView['values'][number], 'key'>;

function valueView({ value, interval, uncertain, counted }: RunValue): ValueView {
  return {
    value: orNull(value),
    interval: interval && { lower: orNull(interval.lower), upper: orNull(interval.upper) },
    uncertain: uncertain && {
      value: orNull(uncertain.value),
      standardError: orNull(uncertain.standardError),
      degreesOfFreedom: orNull(uncertain.degreesOfFreedom),
    },
    counted: counted && { ...counted },
  };
}

const orNull = (value: number) => (Number.isFinite(value) ? value : null);
const orNaN = (value: number | null) => value ?? Number.NaN;

/** As `valuesOfRun` gives them. One that is missing is not known. */
export function valuesOf({ values }: RunSummaryView): RunValues {
  const known = values.map(({ key, value, interval, uncertain, counted }): [string, RunValue] => [
    key,
    {
      value: orNaN(value),
      interval: interval && { lower: orNaN(interval.lower), upper: orNaN(interval.upper) },
      uncertain: uncertain && {
        value: orNaN(uncertain.value),
        standardError: orNaN(uncertain.standardError),
        degreesOfFreedom: orNaN(uncertain.degreesOfFreedom),
      },
      counted,
    },
  ]);
  const unknown = MEASURES.map((key): [string, RunValue] => [
    key,
    { value: Number.NaN, interval: null, uncertain: null, counted: null },
  ]);
  return Object.fromEntries([...unknown, ...known]) as RunValues;
}

export function tallyOf({ tally }: RunSummaryView): DiameterTally | null {
  return (
    tally && {
      cells: Float64Array.from(tally.cells),
      lengthsMm: Float64Array.from(tally.lengthsMm),
      readings: Float64Array.from(tally.readings),
    }
  );
}
