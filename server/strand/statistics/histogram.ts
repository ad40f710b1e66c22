import { CELLS_A_MM, type DiameterTally } from './diameter-tally.ts';
import { type GaugeSteps, greatestStep } from './gauge-steps.ts';

export interface Histogram {
  /** One more than there are bins. No reading falls on an edge. */
  readonly edgesMm: Float64Array;
  /** Length of strand in each bin, mm. */
  readonly lengthsMm: Float64Array;
  readonly belowMm: number;
  readonly aboveMm: number;
}

/** Range on either side of the nominal diameter, in tolerances. */
const TOLERANCES = 3;
/** Approximate number of bins; fewer where the gauge resolves fewer diameters. */
const BINS = 60;
/** Bins may be widened by up to this factor to hold whole steps of all gauges. */
const WIDEST = 4;

/** Equal bins, in cells of a tally. */
export interface Bins {
  readonly from: number;
  readonly width: number;
  readonly count: number;
}

/**
 * Bins with the same number of gauge steps each and edges between the diameters that the gauge can send, so that the
 * histogram shows no comb. For strand measured by several gauges, this holds for the steps that they have in common.
 * @param gauges at least one
 */
export function binsFor(
  gauges: readonly GaugeSteps[],
  limits: { readonly nominalMm: number; readonly toleranceMm: number },
): Bins {
  const { step, anchor, fine } = commonSteps(gauges);
  const nominal = limits.nominalMm * CELLS_A_MM;
  const reach = TOLERANCES * limits.toleranceMm * CELLS_A_MM;
  const width = step * stepsPerBin(step, gauges, (2 * reach) / BINS);
  // Half a step below a diameter, shifted by half a fine step where single readings fall halfway.
  const below = Math.round(step / fine) % 2 === 0 ? step / 2 + fine / 2 : step / 2;
  const origin = anchor + Math.round((nominal - anchor) / step) * step - below;
  const first = Math.floor((nominal - reach - origin) / width + 1e-9);
  const last = Math.ceil((nominal + reach - origin) / width - 1e-9);
  return { from: origin + first * width, width, count: Math.max(1, last - first) };
}

/** The coarsest steps, with a fine step that reaches all diameters sent by any of the gauges. */
function commonSteps(gauges: readonly GaugeSteps[]): GaugeSteps {
  const coarsest = gauges.reduce((a, b) => (b.step > a.step ? b : a));
  const others = gauges.flatMap(({ anchor, fine }) => [fine, anchor - coarsest.anchor]);
  if (others.every(Number.isInteger)) return { ...coarsest, fine: greatestStep([coarsest.fine, ...others]) };
  // Rounded or divided steps are not whole cells: any cell may have been sent.
  return { step: coarsest.step, anchor: Math.round(coarsest.anchor), fine: 1 };
}

function stepsPerBin(step: number, gauges: readonly GaugeSteps[], wanted: number): number {
  const least = Math.max(1, Math.ceil(wanted / step - 1e-9));
  for (let n = least; n <= WIDEST * least; n++) {
    if (gauges.every((gauge) => isWhole((n * step) / gauge.step))) return n;
  }
  return least;
}

const isWhole = (value: number): boolean => Math.abs(value - Math.round(value)) < 1e-6;

/** Length of strand by diameter. */
export function histogram({ cells, lengthsMm }: DiameterTally, { from, width, count }: Bins): Histogram {
  const inBins = new Float64Array(count);
  let belowMm = 0;
  let aboveMm = 0;
  for (let i = 0; i < cells.length; i++) {
    const bin = Math.floor((cells[i]! - from) / width);
    if (bin < 0) belowMm += lengthsMm[i]!;
    else if (bin >= count) aboveMm += lengthsMm[i]!;
    else inBins[bin]! += lengthsMm[i]!;
  }
  const edgesMm = Float64Array.from({ length: count + 1 }, (_, i) => (from + i * width) / CELLS_A_MM);
  return { edgesMm, lengthsMm: inBins, belowMm, aboveMm };
}

/** Shares of the measured length (0 to 1) within, below and above two limits. A value on a limit is within. */
export interface ToleranceShares {
  readonly within: number;
  readonly below: number;
  readonly above: number;
  readonly measuredMm: number;
}

export function toleranceShares(
  valuesMm: ArrayLike<number>,
  weightsMm: ArrayLike<number>,
  lowerMm: number,
  upperMm: number,
): ToleranceShares {
  if (!(lowerMm < upperMm)) throw new RangeError(`the limits ${lowerMm} and ${upperMm} mm are in the wrong order`);
  let below = 0;
  let above = 0;
  let measuredMm = 0;
  for (let i = 0; i < valuesMm.length; i++) {
    const value = valuesMm[i]!;
    if (!Number.isFinite(value)) continue;
    measuredMm += weightsMm[i]!;
    if (value < lowerMm) below += weightsMm[i]!;
    else if (value > upperMm) above += weightsMm[i]!;
  }
  if (measuredMm === 0)
    return {
      within: Number.NaN,
      below: Number.NaN,
      above: Number.NaN,
      measuredMm,
    };
  return {
    within: (measuredMm - below - above) / measuredMm,
    below: below / measuredMm,
    above: above / measuredMm,
    measuredMm,
  };
}
