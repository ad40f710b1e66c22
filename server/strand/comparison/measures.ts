import { D2 } from '../statistics/moving-range.ts';
import type { StretchSums } from './stretch-sums.ts';

/** Results of a run that are compared, in the order in which they are shown. */
export const MEASURES = [
  'blobsAndNecks',
  'within',
  'discard',
  'sd',
  'shortTerm',
  'ovality',
  'mean',
  'kept',
  'longestCoil',
  'heat',
  'alarms',
] as const;
export type MeasureKey = (typeof MEASURES)[number];

/** A share is 0 to 1. */
type MeasureUnit = 'mm' | 'share' | 'per100m' | 'm' | 'kelvin' | 'perHour';

export interface MeasureKind {
  readonly title: string;
  readonly unit: MeasureUnit;
  /** Which way is better; null = neither. */
  readonly better: 'less' | 'more' | null;
  /** Spreads and rates are compared as a factor, all else as a difference. */
  readonly differsBy: 'factor' | 'amount';
}

export const MEASURE_KINDS: Readonly<Record<MeasureKey, MeasureKind>> = {
  blobsAndNecks: { title: 'Blobs and thin spots', unit: 'per100m', better: 'less', differsBy: 'factor' },
  within: { title: 'Within tolerance', unit: 'share', better: 'more', differsBy: 'amount' },
  discard: { title: 'Bad strand', unit: 'share', better: 'less', differsBy: 'amount' },
  sd: { title: 'Standard deviation', unit: 'mm', better: 'less', differsBy: 'factor' },
  shortTerm: { title: 'Short-term spread', unit: 'mm', better: 'less', differsBy: 'factor' },
  ovality: { title: 'Ovality', unit: 'mm', better: 'less', differsBy: 'factor' },
  mean: { title: 'Mean diameter', unit: 'mm', better: null, differsBy: 'amount' },
  kept: { title: 'Kept after cutting', unit: 'share', better: 'more', differsBy: 'amount' },
  longestCoil: { title: 'Longest coil', unit: 'm', better: 'more', differsBy: 'amount' },
  heat: { title: 'Unsteadiest zone', unit: 'kelvin', better: 'less', differsBy: 'factor' },
  alarms: { title: 'Calls by alarms', unit: 'perHour', better: 'less', differsBy: 'factor' },
};

/** Values of summed stretches, on the scale on which they are compared: a logarithm where values differ by a factor. */
export const VALUE_OF = {
  mean: (sums: StretchSums) => sums.offMm2 / sums.measuredMm,
  sd: (sums: StretchSums) => Math.log(sums.squareMm3 / sums.measuredMm - (sums.offMm2 / sums.measuredMm) ** 2) / 2,
  shortTerm: (sums: StretchSums) => Math.log(sums.rangeSumMm / sums.ranges / D2),
  ovality: (sums: StretchSums) => Math.log(sums.ovalMm2 / sums.twoAxesMm),
  within: (sums: StretchSums) => sums.withinMm / sums.measuredMm,
  discard: (sums: StretchSums) => sums.discardMm / sums.woundMm,
} as const satisfies Partial<Record<MeasureKey, (sums: StretchSums) => number>>;
export type SummedMeasure = keyof typeof VALUE_OF;
