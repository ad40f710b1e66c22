import { STEADINESS_POINTS_MIN, type SteadinessChart, steadinessChart } from '../../strand/chart/steadiness.ts';
import { GaugeNoise } from '../../strand/gauge-noise.ts';
import { type Ovality, ovality } from '../../strand/statistics/ovality.ts';
import { resampleEvenly } from '../../strand/statistics/resample.ts';
import {
  type StrandBasis,
  type StrandStatistics,
  statisticsAgainst,
  strandBasis,
} from '../../strand/statistics/strand-statistics.ts';
import { type FlowError, flowError } from '../../strand/verdict/flow-error.ts';
import type { StrandOnSpool } from './strand-on-spool.ts';

/** Points of the control chart: few enough that neighbours are nearly independent on most spools. */
const POINTS = 100;
/** A tenth of the shortest window, so that its worst place is accurate. */
const FLOW_STEP_MM = 10;
/** Enough for 10 km, which no spool holds: a wrong unit of the speed must not take all the memory. */
const FLOW_CELLS_MAX = 1_000_000;

/** The control chart of a spool. Points that were not measured are left out. */
export interface StrandSteadiness extends SteadinessChart {
  readonly stepMm: number;
  /** Middle of the strand of each point. */
  readonly atMm: readonly number[];
  readonly meanMm: Float64Array;
}

/** The basis of the statistics, which does not depend on the tolerance; null = nothing was measured. */
export function basisOf(strand: StrandOnSpool): StrandBasis | null {
  if (!strand.diameterMm.some((d) => Number.isFinite(d)) || strand.positionMm.length < 2) return null;
  const basis = strandBasis(strand.positionMm, strand.diameterMm, { weightsMm: strand.weightsMm });
  return Number.isFinite(basis.moments.mean) ? basis : null;
}

export function statisticsOf(
  basis: StrandBasis | null,
  band: { readonly nominalMm: number; readonly toleranceMm: number },
): StrandStatistics | null {
  return basis === null ? null : statisticsAgainst(basis, band);
}

/** Out-of-roundness along the length, with the place of its maximum; null = single-axis gauge. */
export function ovalityOf(strand: StrandOnSpool): (Ovality & { readonly largestAtMm: number }) | null {
  if (strand.axesMm === null) return null;
  // Without strand in the gauge the axes mean nothing.
  const x = strand.axesMm.x.map((value, i) => (Number.isNaN(strand.diameterMm[i] ?? Number.NaN) ? Number.NaN : value));
  const found = ovality(x, strand.axesMm.y, strand.weightsMm);
  return found === null ? null : { ...found, largestAtMm: strand.positionMm[found.largestAtSample] ?? Number.NaN };
}

/** The noise is looked at each time so many readings have followed one another. */
const NOISE_EVERY = 512;

/** Standard deviation of the readings where they scattered most, mm; null = too few. */
export function gaugeNoiseOf({ diameterMm, meanPitchMm }: StrandOnSpool): number | null {
  const noise = new GaugeNoise();
  let mostMm: number | null = null;
  let inRow = 0;
  for (const mm of diameterMm) {
    inRow = Number.isNaN(mm) ? 0 : inRow + 1;
    if (inRow === 0) noise.interrupt();
    else noise.step(mm);
    if (inRow > 0 && inRow % NOISE_EVERY === 0) mostMm = Math.max(mostMm ?? 0, noise.sigmaMm(0, meanPitchMm));
  }
  return mostMm;
}

export function flowOf(strand: StrandOnSpool, nominalMm: number): FlowError | null {
  const { positionMm, diameterMm } = strand;
  const stepMm = Math.max(FLOW_STEP_MM, spanOf(positionMm) / FLOW_CELLS_MAX);
  const even = resampleEvenly(positionMm, diameterMm, stepMm, gapMm(strand, stepMm));
  return flowError(even, nominalMm);
}

/** The control chart of the mean diameters of equal lengths of strand; null = too little of it was measured. */
export function steadinessOf(strand: StrandOnSpool): StrandSteadiness | null {
  const { positionMm, diameterMm } = strand;
  const stepMm = spanOf(positionMm) / POINTS;
  if (!(stepMm > 0)) return null;
  const even = resampleEvenly(positionMm, diameterMm, stepMm, gapMm(strand, stepMm));
  const meanMm = even.values.filter((mean) => Number.isFinite(mean));
  if (meanMm.length < STEADINESS_POINTS_MIN) return null;
  const atMm = Array.from(even.values, (mean, i) => (Number.isFinite(mean) ? even.from + (i + 0.5) * stepMm : null));
  return { ...steadinessChart(meanMm), stepMm, atMm: atMm.filter((mm) => mm !== null), meanMm };
}

/** From the first to the last value; 0 for fewer than two. */
export function spanOf(values: Float64Array): number {
  return (values.at(-1) ?? 0) - (values[0] ?? 0);
}

/** Readings coarser than the grid are still joined; real gaps are not. */
function gapMm(strand: StrandOnSpool, stepMm: number): number {
  return Math.max(strand.longestPitchMm, stepMm);
}
