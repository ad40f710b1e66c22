import { fieldOf, keysInOrder, levelText, preparationOnly, type Values } from '../preparation/fields.ts';
import type { Figure, Period } from './trend.ts';
import { nightsNeeded, trendsOf } from './trend.ts';

/** What came of a night, and how its material was prepared. null = not known. */
export interface NightFigures {
  readonly material: string;
  readonly values: Values;
  readonly blobs: number;
  readonly measuredMm: number;
  readonly woundMm: number;
  readonly keptMm: number;
  readonly diameterMeanMm: number | null;
  readonly diameterSdMm: number | null;
  /** Alarms about heat, gauge or cable. */
  readonly troubles: number;
}

export const TREND_KEYS = ['blobs', 'good', 'spread', 'mean', 'troubles'] as const;
type TrendKey = (typeof TREND_KEYS)[number];

const FIGURES: Record<TrendKey, (night: NightFigures) => number | null> = {
  blobs: ({ blobs, measuredMm }) => (blobs * 100_000) / measuredMm,
  good: ({ keptMm, woundMm }) => (100 * keptMm) / woundMm,
  spread: ({ diameterSdMm }) => diameterSdMm,
  mean: ({ diameterMeanMm }) => diameterMeanMm,
  troubles: ({ troubles }) => troubles,
};

export interface TrendOfNights {
  readonly key: TrendKey;
  /** By night. */
  readonly values: readonly (number | null)[];
  readonly p: number;
  readonly periods: readonly (Period & {
    /** How most of its first nights were prepared otherwise than most of the last ones before it: "Drying time 4 h → 8 h". */
    readonly preparedOtherwise: readonly string[];
  })[];
}

/** What was prepared otherwise is looked for in so many nights before and after a change. */
const NEAR = 5;

/** Fewer nights cannot show a change of any figure. */
export const NIGHTS_NEEDED = nightsNeeded(TREND_KEYS.length);

/** @param nights in order of time, each with measured strand */
export function trendsOfNights(nights: readonly NightFigures[]): readonly TrendOfNights[] {
  const all = TREND_KEYS.map((key) => {
    const values = nights.map(FIGURES[key]);
    const known = values.flatMap((value, night) => (value === null ? [] : [{ value, night }]));
    return { key, values, known };
  });
  const trends = trendsOf(
    all.map(
      ({ key, known }): Figure => ({
        values: known.map(({ value }) => value),
        ...(key === 'blobs' ? { exposure: known.map(({ night }) => nights[night]!.measuredMm / 100_000) } : {}),
      }),
    ),
  );
  return all.map(({ key, values, known }, i) => ({
    key,
    values,
    p: trends[i]!.p,
    periods:
      known.length === 0
        ? []
        : trends[i]!.periods.map(({ from, to, level }, k) => {
            const at = known[from]!.night;
            const preparedOtherwise =
              k === 0
                ? []
                : changesFrom(usual(nights.slice(Math.max(0, at - NEAR), at)), usual(nights.slice(at, at + NEAR)));
            return { from: known[from]!.night, to: known[to]!.night, level, preparedOtherwise };
          }),
  }));
}

type Preparation = Pick<NightFigures, 'material' | 'values'>;

/** What more than half of the nights had in common. */
function usual(nights: readonly Preparation[]): Preparation {
  const inMost = <T>(all: readonly T[]) =>
    all.find((one) => one !== undefined && all.filter((other) => other === one).length > nights.length / 2);
  const keys = keysInOrder(Object.assign({}, ...nights.map(({ values }) => values)));
  const values = keys.flatMap((key) => {
    const value = inMost(nights.map((night) => night.values[key]));
    return value === undefined ? [] : [[key, value] as const];
  });
  return { material: inMost(nights.map(({ material }) => material)) ?? '', values: Object.fromEntries(values) };
}

/** What was prepared otherwise: "Drying time 4 h → 8 h". */
export function changesFrom(before: Preparation, after: Preparation): readonly string[] {
  const changes = keysInOrder(preparationOnly({ ...before.values, ...after.values })).flatMap((key) => {
    const [was, is] = [before.values[key], after.values[key]];
    // A value that was not entered says nothing.
    if (was === undefined || is === undefined || was === is) return [];
    return [`${fieldOf(key).title} ${levelText(key, was)} → ${levelText(key, is)}`];
  });
  const material =
    before.material === after.material || after.material === '' || before.material === ''
      ? []
      : [`${before.material} → ${after.material}`];
  return [...material, ...changes];
}
