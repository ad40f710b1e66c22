import { cusumChart } from '../../strand/chart/cusum-chart.ts';
import { ewmaChart } from '../../strand/chart/ewma-chart.ts';
import { individualsChart } from '../../strand/chart/individuals-chart.ts';
import { type RunSignal, runSignals } from '../../strand/chart/run-rules.ts';
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

/** Most points of a chart. */
const POINTS_MAX = 500;
const STEP_MM_MIN = 250;
const POINTS_OF_SHORT = 50;
const LAMBDA = 0.2;
const ALLOWANCE_SIGMAS = 0.5;
const DECISION_SIGMAS = 5;
/** Fewer points than this make no chart. */
const POINTS_MIN = 5;
/** A cell a tenth of the shortest window keeps its worst place true. */
const FLOW_STEP_MM = 10;

export interface StrandCharts {
  readonly stepMm: number;
  readonly atMm: readonly number[];
  readonly meanMm: Float64Array;
  readonly targetMm: number;
  readonly individuals: ReturnType<typeof individualsChart>;
  readonly signals: readonly RunSignal[];
  readonly ewma: ReturnType<typeof ewmaChart> & { readonly lambda: number };
  readonly cusum: ReturnType<typeof cusumChart> & { readonly allowanceMm: number; readonly decisionMm: number };
}

/** What statistics along the length rest on, whatever the tolerance; null where nothing was measured. */
export function basisOf(strand: StrandOnSpool): StrandBasis | null {
  if (!strand.diameterMm.some((d) => Number.isFinite(d)) || strand.positionMm.length < 2) return null;
  const basis = strandBasis(strand.positionMm, strand.diameterMm, { longestPitchMm: strand.longestPitchMm });
  return Number.isFinite(basis.moments.mean) ? basis : null;
}

export function statisticsOf(
  basis: StrandBasis | null,
  band: { readonly nominalMm: number; readonly toleranceMm: number },
): StrandStatistics | null {
  return basis === null ? null : statisticsAgainst(basis, band);
}

/** Out-of-round along the length, with the place of the largest; null with a gauge of one axis. */
export function ovalityOf(strand: StrandOnSpool): (Ovality & { readonly largestAtMm: number }) | null {
  if (strand.axesMm === null) return null;
  // Where no strand is in the gauge its axes tell nothing.
  const x = strand.axesMm.x.map((value, i) => (Number.isNaN(strand.diameterMm[i]!) ? Number.NaN : value));
  const found = ovality(x, strand.axesMm.y, strand.weightsMm);
  return found === null ? null : { ...found, largestAtMm: strand.positionMm[found.largestAtSample]! };
}

export function flowOf(strand: StrandOnSpool, nominalMm: number): FlowError | null {
  const even = resampleEvenly(strand.positionMm, strand.diameterMm, FLOW_STEP_MM, gapOf(strand, FLOW_STEP_MM));
  return flowError(even, nominalMm);
}

/**
 * Charts of the mean diameters of equal lengths of strand, about the spool's own mean: they show where it wandered, not
 * whether it was set right. Null where there is too little strand, or none of it varied.
 */
export function chartsOf(strand: StrandOnSpool): StrandCharts | null {
  const { positionMm } = strand;
  const n = positionMm.length;
  const totalMm = n < 2 ? 0 : positionMm[n - 1]! - positionMm[0]!;
  if (!(totalMm > 0)) return null;
  const stepMm = Math.max(Math.min(STEP_MM_MIN, totalMm / POINTS_OF_SHORT), totalMm / POINTS_MAX);
  const even = resampleEvenly(positionMm, strand.diameterMm, stepMm, gapOf(strand, stepMm));
  if (even.values.filter((value) => Number.isFinite(value)).length < POINTS_MIN) return null;
  const individuals = individualsChart(even.values);
  const { sigma, centre } = individuals;
  if (!(sigma > 0)) return null;
  const allowanceMm = ALLOWANCE_SIGMAS * sigma;
  const decisionMm = DECISION_SIGMAS * sigma;
  return {
    stepMm,
    atMm: Array.from(even.values, (_, i) => even.from + (i + 0.5) * stepMm),
    meanMm: even.values,
    targetMm: centre,
    individuals,
    signals: runSignals(even.values, centre, sigma),
    ewma: { ...ewmaChart(even.values, { target: centre, sigma, lambda: LAMBDA }), lambda: LAMBDA },
    cusum: {
      ...cusumChart(even.values, { target: centre, allowance: allowanceMm, decision: decisionMm }),
      allowanceMm,
      decisionMm,
    },
  };
}

/** Readings coarser than the grid are joined all the same; only true gaps are not. */
function gapOf(strand: StrandOnSpool, stepMm: number): number {
  return Math.max(strand.longestPitchMm, stepMm);
}
