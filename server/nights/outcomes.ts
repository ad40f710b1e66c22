import type { Values } from '../preparation/fields.ts';
import type { Observed } from '../strand/statistics/regression.ts';

/** A night: how the material was prepared, and what came of it. */
export interface Night {
  readonly values: Values;
  readonly blobs: number;
  readonly measuredMm: number;
  /** What its cut list keeps, as a share of what was wound. */
  readonly keptShare: number;
  /** null = not known. */
  readonly diameterSdMm: number | null;
}

/** The field of a night that says on which line it was wound, where nights of several lines are compared. */
export const LINE_FIELD = 'Line';

export const OUTCOMES = ['blobs', 'good', 'spread'] as const;
export type OutcomeKey = (typeof OUTCOMES)[number];

/** How an outcome of the nights is modelled. */
interface OutcomeModel {
  readonly isKnown: (night: Night) => boolean;
  readonly observed: (nights: readonly Night[]) => Observed;
  /** A value of the outcome, from the linear scale of the model. */
  readonly valueOf: (linear: number) => number;
  /** One standard deviation of what a step of a preparation does, on the linear scale. No source. */
  readonly stepSd: number;
  /** Its part of the chance that is allowed for false findings, so that looking at three outcomes finds no more than one would. */
  readonly alphaShare: number;
}

/** A share of 0 or 1 would be infinitely far away. */
const SHARE_MIN = 0.005;
const PER_CENT = 100;

const normal = (y: readonly number[]): Observed => ({ y, exposure: y.map(() => 1), family: 'normal' });

export const OUTCOME_MODELS: Readonly<Record<OutcomeKey, OutcomeModel>> = {
  blobs: {
    isKnown: () => true,
    observed: (nights) => ({
      y: nights.map(({ blobs }) => blobs),
      exposure: nights.map(({ measuredMm }) => measuredMm / 100_000),
      family: 'count',
    }),
    valueOf: Math.exp,
    // A step seldom changes blobs by more than a factor of e², so half of that is one standard deviation.
    stepSd: 1,
    alphaShare: 0.5,
  },
  good: {
    isKnown: () => true,
    observed: (nights) =>
      normal(
        nights.map(({ keptShare }) => {
          const share = Math.min(1 - SHARE_MIN, Math.max(SHARE_MIN, keptShare));
          return Math.log(share / (1 - share));
        }),
      ),
    valueOf: (linear) => PER_CENT / (1 + Math.exp(-linear)),
    stepSd: 1,
    alphaShare: 0.25,
  },
  spread: {
    isKnown: ({ diameterSdMm }) => diameterSdMm !== null && diameterSdMm > 0,
    observed: (nights) => normal(nights.map(({ diameterSdMm }) => Math.log(diameterSdMm!))),
    valueOf: Math.exp,
    // The spread of a diameter varies less than the number of blobs.
    stepSd: 0.5,
    alphaShare: 0.25,
  },
};
