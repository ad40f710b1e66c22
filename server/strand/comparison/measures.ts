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
  /** A smaller difference changes little for prints; a factor or an amount. Common practice, no source. null = not asked. */
  readonly worthSeeing: number | null;
}

export const MEASURE_KINDS: Readonly<Record<MeasureKey, MeasureKind>> = {
  blobsAndNecks: {
    title: 'Blobs and thin spots',
    unit: 'per100m',
    better: 'less',
    differsBy: 'factor',
    worthSeeing: 2,
  },
  within: { title: 'Within tolerance', unit: 'share', better: 'more', differsBy: 'amount', worthSeeing: 0.02 },
  discard: { title: 'Bad strand', unit: 'share', better: 'less', differsBy: 'amount', worthSeeing: 0.02 },
  sd: { title: 'Standard deviation', unit: 'mm', better: 'less', differsBy: 'factor', worthSeeing: 1.25 },
  shortTerm: { title: 'Short-term spread', unit: 'mm', better: 'less', differsBy: 'factor', worthSeeing: 1.25 },
  ovality: { title: 'Out-of-roundness', unit: 'mm', better: 'less', differsBy: 'factor', worthSeeing: 1.5 },
  mean: { title: 'Mean diameter', unit: 'mm', better: null, differsBy: 'amount', worthSeeing: 0.01 },
  kept: { title: 'Kept after cutting', unit: 'share', better: 'more', differsBy: 'amount', worthSeeing: 0.05 },
  longestCoil: { title: 'Longest coil', unit: 'm', better: 'more', differsBy: 'amount', worthSeeing: null },
  heat: { title: 'Unsteadiest zone', unit: 'kelvin', better: 'less', differsBy: 'factor', worthSeeing: 1.5 },
  alarms: { title: 'Alarms raised', unit: 'perHour', better: 'less', differsBy: 'factor', worthSeeing: 2 },
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
