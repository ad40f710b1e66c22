import { firstIndex } from '../../probability/first-index.ts';
import { isCutOut, type StrandOnWinder, spoolPositionMm } from '../../strand/position.ts';
import { lengthWeights } from '../../strand/statistics/length-weights.ts';
import type { SpoolColumns } from './spool-columns.ts';

/** Readings of the strand on a spool, by true position from the inner end. */
export interface StrandOnSpool {
  readonly timeMs: Float64Array;
  readonly positionMm: Float64Array;
  /** NaN = not measured, or no strand. */
  readonly diameterMm: Float64Array;
  readonly axesMm: SpoolColumns['axesMm'];
  /** The length that each reading represents. */
  readonly weightsMm: Float64Array;
  /** NaN = fewer than two readings. */
  readonly meanPitchMm: number;
  /** Readings further apart than this have a gap between them. */
  readonly longestPitchMm: number;
}

/** A gap is a distance of more than this many mean pitches. */
const GAP_PITCHES = 5;

export function strandOnSpool(
  columns: SpoolColumns,
  spool: StrandOnWinder & { readonly endGaugeMm: number },
  strandPresentMm: number,
): StrandOnSpool {
  const { gaugeMm } = columns;
  const first = firstAtLeast(gaugeMm, spool.startGaugeMm);
  const beyond = firstAbove(gaugeMm, spool.endGaugeMm);
  const { cutOuts } = spool;
  const woundSpool = (values: Float64Array) =>
    cutOuts.length === 0
      ? values.subarray(first, beyond)
      : values.subarray(first, beyond).filter((_, i) => !isCutOut(gaugeMm[first + i]!, cutOuts));
  const positionMm = woundSpool(gaugeMm).map((mm) => spoolPositionMm(mm, spool));
  const diameterMm = woundSpool(columns.diameterMm).slice();
  for (let i = 0; i < diameterMm.length; i++) if (!(diameterMm[i]! >= strandPresentMm)) diameterMm[i] = Number.NaN;
  const n = positionMm.length;
  const meanPitchMm = n < 2 ? Number.NaN : ((positionMm.at(-1) ?? 0) - (positionMm[0] ?? 0)) / (n - 1);
  const longestPitchMm = n < 2 ? 0 : GAP_PITCHES * meanPitchMm;
  return {
    timeMs: woundSpool(columns.timeMs),
    positionMm,
    diameterMm,
    axesMm: columns.axesMm === null ? null : { x: woundSpool(columns.axesMm.x), y: woundSpool(columns.axesMm.y) },
    weightsMm: lengthWeights(positionMm, longestPitchMm),
    meanPitchMm,
    longestPitchMm,
  };
}

/** The part of a strand between two positions. */
export function partOfStrand(strand: StrandOnSpool, fromMm: number, toMm: number): StrandOnSpool {
  const first = firstAtLeast(strand.positionMm, fromMm);
  const beyond = firstAbove(strand.positionMm, toMm);
  const part = (values: Float64Array) => values.subarray(first, beyond);
  const { axesMm } = strand;
  return {
    ...strand,
    timeMs: part(strand.timeMs),
    positionMm: part(strand.positionMm),
    diameterMm: part(strand.diameterMm),
    axesMm: axesMm === null ? null : { x: part(axesMm.x), y: part(axesMm.y) },
    weightsMm: part(strand.weightsMm),
  };
}

export function firstAtLeast(rising: Float64Array, edge: number): number {
  return firstIndex(0, rising.length, (i) => !(rising[i]! < edge));
}

export function firstAbove(rising: Float64Array, edge: number): number {
  return firstIndex(0, rising.length, (i) => !(rising[i]! <= edge));
}
