import type { EvenSeries } from '../statistics/resample.ts';
import { WeightedMoments } from '../statistics/weighted-moments.ts';

interface WorstWindow {
  readonly windowMm: number;
  /**
   * Windows with the largest and the smallest mean flow error; null where too little of every window was measured, or where
   * the grid is coarser than the window.
   */
  readonly most: { readonly error: number; readonly fromMm: number } | null;
  readonly least: { readonly error: number; readonly fromMm: number } | null;
}

/** Errors as shares: 0.058 = 5.8 % too much. */
export interface FlowError {
  readonly mean: number;
  readonly sd: number;
  /** Factor for the printer's flow that corrects the mean: 1 / (1 + mean). */
  readonly flowMultiplier: number;
  readonly worst: readonly WorstWindow[];
  /** The same windows after this correction. */
  readonly worstAfterCorrection: readonly WorstWindow[];
}

const WINDOWS_MM = [100, 1000, 10_000];
/** A window must be measured over this share of its length to count. */
const MEASURED_SHARE = 0.9;

/**
 * A printer feeds lengths, so the flow follows the strand's cross-section: error = (d/d_nominal)² − 1.
 *
 * @param diameters on an even grid along the strand (`resampleEvenly`), step in mm; a grid ten times finer than the
 *   shortest window is accurate enough
 * @returns null where nothing was measured
 */
export function flowError(diameters: EvenSeries, nominalMm: number): FlowError | null {
  if (!(nominalMm > 0)) throw new RangeError(`the nominal diameter must be above zero, not ${nominalMm} mm`);
  const { values, step, from } = diameters;
  const moments = new WeightedMoments();
  // Running sums: the mean of a window follows from the difference of two of them.
  const sums = new Float64Array(values.length + 1);
  const counts = new Uint32Array(values.length + 1);
  for (let i = 0; i < values.length; i++) {
    const error = (values[i]! / nominalMm) ** 2 - 1;
    const measured = Number.isFinite(error);
    moments.add(error);
    sums[i + 1] = sums[i]! + (measured ? error : 0);
    counts[i + 1] = counts[i]! + (measured ? 1 : 0);
  }
  if (moments.count === 0) return null;
  const flowMultiplier = 1 / (1 + moments.mean);
  const worst = WINDOWS_MM.map((windowMm): WorstWindow => {
    const cells = Math.max(1, Math.round(windowMm / step));
    let most: WorstWindow['most'] = null;
    let least: WorstWindow['least'] = null;
    if (step > windowMm) return { windowMm, most, least };
    for (let i = 0; i + cells <= values.length; i++) {
      const measured = counts[i + cells]! - counts[i]!;
      if (measured < MEASURED_SHARE * cells) continue;
      const error = (sums[i + cells]! - sums[i]!) / measured;
      if (most === null || error > most.error) most = { error, fromMm: from + i * step };
      if (least === null || error < least.error) least = { error, fromMm: from + i * step };
    }
    return { windowMm, most, least };
  });
  const corrected = (end: WorstWindow['most']): WorstWindow['most'] =>
    end === null ? null : { ...end, error: (1 + end.error) * flowMultiplier - 1 };
  return {
    mean: moments.mean,
    sd: moments.count < 2 ? 0 : moments.sd,
    flowMultiplier,
    worst,
    worstAfterCorrection: worst.map((w) => ({ ...w, most: corrected(w.most), least: corrected(w.least) })),
  };
}
