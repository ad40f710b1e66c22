import { type BatchEstimate, batchEstimate } from '../statistics/batch-estimate.ts';
import { intervalOf, type Uncertain } from '../statistics/differences.ts';
import { type Clumping, type Counted, clumpingOf, rateInterval } from '../statistics/poisson.ts';
import { widenForWander } from '../statistics/wandering-spread.ts';
import { MEASURE_KINDS, MEASURES, type MeasureKey, type SummedMeasure, VALUE_OF } from './measures.ts';
import { type StretchSums, sumOfStretches } from './stretch-sums.ts';

/** Enough to show how far their correlation reaches; more gain little. */
const BATCHES = 100;
/** Clumps are looked for in at most this many places. */
const PLACES_MAX = 20;
/** Fewer places say nothing about clumps. */
const PLACES_MIN = 5;
/** Clumping is assumed if chance alone shows as much with less than this probability. */
const CLUMPED_BELOW = 0.05;

/** The data of a run for a comparison. */
export interface RunFigures {
  readonly nominalMm: number;
  /** In order, spool after spool. */
  readonly stretches: readonly StretchSums[];
  /** What the cut plans of its full spools keep. */
  readonly keptMm: number;
  readonly longestCoilMm: number;
  /** Standard deviation of the unsteadiest zone about its set-point while winding, K; null = no zone, or no set-points sent. */
  readonly heat: { readonly zone: number; readonly sdK: number } | null;
  /** `callsAt`: time of each call as a share of the run, 0 to 1. */
  readonly alarms: { readonly callsAt: readonly number[]; readonly hours: number };
}

/** A value of one run. */
export interface RunValue {
  /** As shown; NaN = not known. */
  readonly value: number;
  /** 95 %; null = not known. */
  readonly interval: { readonly lower: number; readonly upper: number } | null;
  /** The value and its error on the scale of comparison, from this run alone; null = error not known. */
  readonly uncertain: Uncertain | null;
  /** For measures that are counts. */
  readonly counted: (Counted & { readonly clumping: number }) | null;
}

/** The stretches of a run in up to a hundred longer batches. */
export function batchesOf(stretches: readonly StretchSums[]): readonly StretchSums[] {
  const n = stretches.length;
  const count = n <= BATCHES ? n : Math.floor(n / Math.ceil(n / BATCHES));
  return Array.from({ length: count }, (_, i) =>
    sumOfStretches(stretches.slice(Math.floor((i * n) / count), Math.floor(((i + 1) * n) / count))),
  );
}

/** All values of a run. */
export type RunValues = Readonly<Record<MeasureKey, RunValue>>;

export function valuesOfRun(figures: RunFigures): RunValues {
  return Object.fromEntries(MEASURES.map((key) => [key, valueOfRun(figures, key)])) as RunValues;
}

export function valueOfRun(figures: RunFigures, key: MeasureKey): RunValue {
  switch (key) {
    case 'blobsAndNecks':
      return lumpsOf(figures);
    case 'alarms':
      return alarmsOf(figures);
    case 'kept':
      return single(clampToRange('kept', figures.keptMm / sumOfStretches(figures.stretches).woundMm));
    case 'longestCoil':
      return single(figures.stretches.length === 0 ? Number.NaN : figures.longestCoilMm / 1000);
    case 'heat':
      return single(figures.heat?.sdK ?? Number.NaN);
    default:
      return summedValue(figures, key);
  }
}

/** From the scale of comparison to the value shown. */
export function fromScale(key: MeasureKey, scaled: number, nominalMm: number): number {
  if (key === 'mean') return nominalMm + scaled;
  return MEASURE_KINDS[key].differsBy === 'factor' ? Math.exp(scaled) : scaled;
}

/** From the value shown to the scale of comparison. */
export function toScale(key: MeasureKey, value: number, nominalMm: number): number {
  if (key === 'mean') return value - nominalMm;
  return MEASURE_KINDS[key].differsBy === 'factor' ? Math.log(value) : value;
}

/** Limits the end of an interval to the range of the measure. */
export function clampToRange(key: MeasureKey, end: number): number {
  return Math.min(MEASURE_KINDS[key].unit === 'share' ? 1 : Number.POSITIVE_INFINITY, Math.max(0, end));
}

function summedValue({ stretches, nominalMm }: RunFigures, key: SummedMeasure): RunValue {
  const figure = (some: readonly StretchSums[]) => VALUE_OF[key](sumOfStretches(some));
  const batches = batchesOf(stretches);
  const value = fromScale(key, figure(batches), nominalMm);
  const found: BatchEstimate | null = batchEstimate(batches, figure);
  const uncertain =
    found !== null && key === 'sd' && found.standardError > 0
      ? widenForWander(found, Float64Array.from(batches, VALUE_OF.mean), value)
      : found;
  // If all stretches are equal, such as all within tolerance, the run alone gives no interval.
  if (uncertain === null || uncertain.standardError === 0) return { ...single(value), uncertain };
  const { lower, upper } = intervalOf(uncertain);
  return {
    value,
    interval: {
      lower: clampToRange(key, fromScale(key, lower, nominalMm)),
      upper: clampToRange(key, fromScale(key, upper, nominalMm)),
    },
    uncertain,
    counted: null,
  };
}

/** Blobs and necks in 100 m of what was measured. */
function lumpsOf({ stretches }: RunFigures): RunValue {
  const { lumps, measuredMm } = sumOfStretches(stretches);
  return countedValue({ count: lumps, exposure: measuredMm / 100_000 }, lumpClumping(stretches));
}

function alarmsOf({ alarms: { callsAt, hours } }: RunFigures): RunValue {
  const places = Math.min(PLACES_MAX, callsAt.length);
  const counts = new Array<number>(places).fill(0);
  for (const at of callsAt) counts[Math.min(places - 1, Math.floor(at * places))]! += 1;
  return countedValue({ count: callsAt.length, exposure: hours }, clumpingIn(counts));
}

/** Whether blobs and necks come in clumps; null = too few to tell. */
export function lumpClumping(stretches: readonly StretchSums[]): Clumping | null {
  const n = stretches.length;
  const places = Math.min(PLACES_MAX, sumOfStretches(stretches).lumps, n);
  return clumpingIn(
    Array.from({ length: places }, (_, i) =>
      stretches
        .slice(Math.floor((i * n) / places), Math.floor(((i + 1) * n) / places))
        .reduce((sum, { lumps }) => sum + lumps, 0),
    ),
  );
}

function clumpingIn(counts: readonly number[]): Clumping | null {
  return counts.length < PLACES_MIN ? null : clumpingOf(counts);
}

function countedValue(counted: Counted, found: Clumping | null): RunValue {
  if (!(counted.exposure > 0)) return single(Number.NaN);
  const clumping = found !== null && found.p < CLUMPED_BELOW ? Math.max(1, found.index) : 1;
  const { rate, lower, upper } = rateInterval(counted, clumping);
  return { value: rate, interval: { lower, upper }, uncertain: null, counted: { ...counted, clumping } };
}

function single(value: number): RunValue {
  return { value, interval: null, uncertain: null, counted: null };
}
