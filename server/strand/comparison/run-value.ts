import { intervalOf, type Uncertain } from '../statistics/differences.ts';
import { type FromStretches, fromStretches } from '../statistics/from-stretches.ts';
import { type Clumping, type Counted, clumpingOf, rateInterval } from '../statistics/poisson.ts';
import { MEASURE_KINDS, type MeasureKey, type SummedMeasure, VALUE_OF } from './measures.ts';
import { type StretchSums, together } from './stretch-sums.ts';

/** Between 10 and 30: more batches gain little and follow each other more (Schmeiser 1982, Oper. Res. 30). */
const BATCHES = 20;
/** Fewer places than this tell nothing of clumps. */
const PLACES_MIN = 5;
/** Clumping is believed below this chance of it by accident. */
const CLUMPED_BELOW = 0.05;

/** What is known of a run beside its neighbours: plain data. */
export interface RunFigures {
  readonly runId: number;
  readonly nominalMm: number;
  /** In order, spool after spool. */
  readonly stretches: readonly StretchSums[];
  /** What the cut plans of its spools keep, as they were wound. */
  readonly keptMm: number;
  readonly longestCoilMm: number;
  /** Standard deviation of the unsteadiest zone about its set-point while winding, K; null = no zone, or none told. */
  readonly heat: { readonly zone: number; readonly sdK: number } | null;
  /** `callsAt`: when each came, as a share of the run, 0 to 1. */
  readonly alarms: { readonly callsAt: readonly number[]; readonly hours: number };
}

/** A value of one run. */
export interface RunValue {
  /** As it is told; NaN = not known. */
  readonly value: number;
  /** 95 %; null = not known. */
  readonly interval: { readonly lower: number; readonly upper: number } | null;
  /** How sure it is on its scale, from the run alone; null = one value, of which nothing is known. */
  readonly uncertain: Uncertain | null;
  /** For what is counted. */
  readonly counted: (Counted & { readonly clumping: number }) | null;
}

/** The long stretches of a run: twenty where there is enough of it, each some whole metres. */
export function batchesOf(stretches: readonly StretchSums[]): readonly StretchSums[] {
  const n = stretches.length;
  const count = n <= BATCHES ? n : Math.floor(n / Math.ceil(n / BATCHES));
  return Array.from({ length: count }, (_, i) =>
    together(stretches.slice(Math.floor((i * n) / count), Math.floor(((i + 1) * n) / count))),
  );
}

export function valueOfRun(figures: RunFigures, key: MeasureKey): RunValue {
  switch (key) {
    case 'blobsAndNecks':
      return lumpsOf(figures);
    case 'alarms':
      return alarmsOf(figures);
    case 'kept':
      return single(possible('kept', figures.keptMm / together(figures.stretches).woundMm));
    case 'longestCoil':
      return single(figures.stretches.length === 0 ? Number.NaN : figures.longestCoilMm / 1000);
    case 'heat':
      return single(figures.heat?.sdK ?? Number.NaN);
    default:
      return summedValue(figures, key);
  }
}

/** From the scale on which a measure is compared to how it is told. */
export function told(key: MeasureKey, onScale: number, nominalMm: number): number {
  if (key === 'mean') return nominalMm + onScale;
  return MEASURE_KINDS[key].differsBy === 'factor' ? Math.exp(onScale) : onScale;
}

/** The other way about. */
export function onScale(key: MeasureKey, value: number, nominalMm: number): number {
  if (key === 'mean') return value - nominalMm;
  return MEASURE_KINDS[key].differsBy === 'factor' ? Math.log(value) : value;
}

/** The end of an interval, no further than the value itself can go. */
export function possible(key: MeasureKey, end: number): number {
  return Math.min(MEASURE_KINDS[key].unit === 'share' ? 1 : Number.POSITIVE_INFINITY, Math.max(0, end));
}

function summedValue({ stretches, nominalMm }: RunFigures, key: SummedMeasure): RunValue {
  const figure = (some: readonly StretchSums[]) => VALUE_OF[key](together(some));
  const batches = batchesOf(stretches);
  const uncertain: FromStretches | null = fromStretches(batches, figure);
  const value = told(key, figure(batches), nominalMm);
  // Where no stretch differs from another, as when all is within tolerance, the run alone gives no interval.
  if (uncertain === null || uncertain.standardError === 0) return { ...single(value), uncertain };
  const { lower, upper } = intervalOf(uncertain);
  return {
    value,
    interval: { lower: possible(key, told(key, lower, nominalMm)), upper: possible(key, told(key, upper, nominalMm)) },
    uncertain,
    counted: null,
  };
}

/** Blobs and necks in 100 m of what was measured. */
function lumpsOf({ stretches }: RunFigures): RunValue {
  const { lumps, measuredMm } = together(stretches);
  return countedValue({ count: lumps, exposure: measuredMm / 100_000 }, lumpClumping(stretches));
}

function alarmsOf({ alarms: { callsAt, hours } }: RunFigures): RunValue {
  const places = Math.min(BATCHES, callsAt.length);
  const counts = new Array<number>(places).fill(0);
  for (const at of callsAt) counts[Math.min(places - 1, Math.floor(at * places))]! += 1;
  return countedValue({ count: callsAt.length, exposure: hours }, clumpingIn(counts));
}

/** Whether blobs and necks come in clumps; null = too few to tell. */
export function lumpClumping(stretches: readonly StretchSums[]): Clumping | null {
  const n = stretches.length;
  const places = Math.min(BATCHES, together(stretches).lumps, n);
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
