import { mergedStretches } from '../position.ts';
import { individuals, individualsApartMm } from '../statistics/strand-statistics.ts';
import { toleranceBand } from '../strand-limits.ts';

/** Strand is summed in stretches of this length, so that any value of a run can be calculated without some of them. */
const STRETCH_MM = 1000;
/** Strand longer than any spool, which a wrong unit of the speed makes, has longer stretches instead of more. */
const STRETCHES_MAX = 4000;

/** Contribution of a stretch of strand to the values of its run. Sums are NaN where the readings have been deleted. */
export interface StretchSums {
  readonly woundMm: number;
  /** Length that has a diameter. */
  readonly measuredMm: number;
  /** Σ length · (diameter − nominal), mm². */
  readonly offMm2: number;
  /** Σ length · (diameter − nominal)², mm³. */
  readonly squareMm3: number;
  readonly withinMm: number;
  /** Absolute differences of successive single diameters. */
  readonly rangeSumMm: number;
  readonly ranges: number;
  /** Length measured in two axes, and Σ length · |dx − dy|. */
  readonly twoAxesMm: number;
  readonly ovalMm2: number;
  /** Length that is to be discarded. */
  readonly discardMm: number;
  /** Blobs and necks that start here. */
  readonly lumps: number;
}

/** The strand of a spool by true position; NaN = not measured. */
export interface MeasuredStrand {
  readonly positionMm: Float64Array;
  readonly diameterMm: Float64Array;
  readonly weightsMm: Float64Array;
  readonly axesMm: { readonly x: Float64Array; readonly y: Float64Array } | null;
}

/** Stretches of a spool to discard, and the starts of its blobs and necks; true mm from the inner end. */
export interface Defects {
  readonly discards: readonly { readonly fromMm: number; readonly toMm: number }[];
  readonly lumpsAtMm: readonly number[];
}

type Sums = { -readonly [Name in keyof StretchSums]: StretchSums[Name] };

const NOTHING: StretchSums = {
  woundMm: 0,
  measuredMm: 0,
  offMm2: 0,
  squareMm3: 0,
  withinMm: 0,
  rangeSumMm: 0,
  ranges: 0,
  twoAxesMm: 0,
  ovalMm2: 0,
  discardMm: 0,
  lumps: 0,
};

/** The sums of several stretches. */
export function sumOfStretches(some: readonly StretchSums[]): StretchSums {
  const sums: Sums = { ...NOTHING };
  for (const one of some) for (const name of NAMES) sums[name] += one[name];
  return sums;
}
const NAMES = Object.keys(NOTHING) as (keyof StretchSums)[];

/** How many stretches there are on so much strand. */
export function stretchesOn(lengthMm: number): number {
  return Math.min(STRETCHES_MAX, Math.max(1, Math.round(lengthMm / STRETCH_MM)));
}

/** The stretches of a spool without its readings: lengths, strand to discard, blobs and necks. */
export function emptyStretches(
  woundMm: number,
  { discards, lumpsAtMm }: Defects,
  count = stretchesOn(woundMm),
): Sums[] {
  const each = woundMm / count;
  const stretches: Sums[] = Array.from({ length: count }, () => ({ ...NOTHING, woundMm: each }));
  const at = (mm: number) => Math.min(count - 1, Math.max(0, Math.floor(mm / each)));
  for (const mm of lumpsAtMm) stretches[at(mm)]!.lumps += 1;
  for (const { fromMm, toMm } of mergedStretches(discards)) {
    const first = at(fromMm);
    for (const [k, sums] of stretches.slice(first, at(toMm) + 1).entries()) {
      const startMm = (first + k) * each;
      sums.discardMm += Math.max(0, Math.min(toMm, startMm + each) - Math.max(fromMm, startMm));
    }
  }
  return stretches;
}

/** The stretches of a spool, all of equal length. */
export function stretchesOfStrand(
  strand: MeasuredStrand,
  woundMm: number,
  limits: { readonly nominalMm: number; readonly toleranceMm: number },
  defects: Defects,
): readonly StretchSums[] {
  const { positionMm, diameterMm, weightsMm, axesMm } = strand;
  const stretches = emptyStretches(woundMm, defects);
  const each = woundMm / stretches.length;
  const at = (mm: number) => stretches[Math.min(stretches.length - 1, Math.max(0, Math.floor(mm / each)))]!;
  const { lowerMm, upperMm } = toleranceBand(limits);
  const n = positionMm.length;
  for (let i = 0; i < n; i++) {
    const off = diameterMm[i]! - limits.nominalMm;
    const weight = weightsMm[i]!;
    if (!Number.isFinite(off) || !(weight > 0)) continue;
    const sums = at(positionMm[i]!);
    sums.measuredMm += weight;
    sums.offMm2 += weight * off;
    sums.squareMm3 += weight * off * off;
    if (diameterMm[i]! >= lowerMm && diameterMm[i]! <= upperMm) sums.withinMm += weight;
    if (axesMm === null) continue;
    const oval = Math.abs(axesMm.x[i]! - axesMm.y[i]!);
    if (!Number.isFinite(oval)) continue;
    sums.twoAxesMm += weight;
    sums.ovalMm2 += weight * oval;
  }
  if (n < 2) return stretches;
  const lengthMm = positionMm[n - 1]! - positionMm[0]!;
  const spacingMm = individualsApartMm(lengthMm);
  const single = individuals(positionMm, diameterMm, spacingMm, lengthMm / (n - 1));
  for (let k = 1; k < single.length; k++) {
    const range = Math.abs(single[k]! - single[k - 1]!);
    if (!Number.isFinite(range)) continue;
    const sums = at(positionMm[0]! + k * spacingMm);
    sums.rangeSumMm += range;
    sums.ranges += 1;
  }
  return stretches;
}
