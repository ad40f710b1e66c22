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

/** Maximum number of points in a chart. */
const POINTS_MAX = 500;
const STEP_MM_MIN = 250;
const POINTS_OF_SHORT = 50;
const LAMBDA = 0.2;
const ALLOWANCE_SIGMAS = 0.5;
const DECISION_SIGMAS = 5;
/** Minimum number of points for a chart. */
const POINTS_MIN = 5;
/** A tenth of the shortest window, so that its worst place is accurate. */
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

/** The basis of the statistics, which does not depend on the tolerance; null = nothing was measured. */
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

/** Out-of-roundness along the length, with the place of its maximum; null = single-axis gauge. */
export function ovalityOf(strand: StrandOnSpool): (Ovality & { readonly largestAtMm: number }) | null {
  if (strand.axesMm === null) return null;
  // Without strand in the gauge the axes mean nothing.
  const x = strand.axesMm.x.map((value, i) => (Number.isNaN(strand.diameterMm[i] ?? Number.NaN) ? Number.NaN : value));
  const found = ovality(x, strand.axesMm.y, strand.weightsMm);
  return found === null ? null : { ...found, largestAtMm: strand.positionMm[found.largestAtSample] ?? Number.NaN };
}

export function flowOf(strand: StrandOnSpool, nominalMm: number): FlowError | null {
  const even = resampleEvenly(strand.positionMm, strand.diameterMm, FLOW_STEP_MM, gapMm(strand, FLOW_STEP_MM));
  return flowError(even, nominalMm);
}

/**
 * Charts of the mean diameters of equal lengths of strand, about the spool's own mean. They show where the diameter wandered,
 * not whether it was set correctly. null = too little strand, or no variation.
 */
export function chartsOf(strand: StrandOnSpool): StrandCharts | null {
  const { positionMm } = strand;
  const totalMm = (positionMm.at(-1) ?? 0) - (positionMm[0] ?? 0);
  if (!(totalMm > 0)) return null;
  const stepMm = Math.max(Math.min(STEP_MM_MIN, totalMm / POINTS_OF_SHORT), totalMm / POINTS_MAX);
  const even = resampleEvenly(positionMm, strand.diameterMm, stepMm, gapMm(strand, stepMm));
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

/** Readings coarser than the grid are still joined; real gaps are not. */
function gapMm(strand: StrandOnSpool, stepMm: number): number {
  return Math.max(strand.longestPitchMm, stepMm);
}
