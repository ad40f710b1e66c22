import type { TrendsView } from '../../server/api/contract/nights.ts';
import { listed } from '../../server/problem/sentence.ts';
import { counted } from '../format/numbers.ts';
import { dayOfYear } from '../format/times.ts';

type Key = TrendsView['figures'][number]['key'];
export type TrendFigure = TrendsView['figures'][number];
export type TrendNight = TrendsView['nights'][number];

interface FigureText {
  readonly title: string;
  readonly unit: string;
  readonly number: (value: number) => string;
  /** The lowest possible value; null = the chart starts near the values. */
  readonly floor: number | null;
  readonly ceiling: number | null;
}

export const FIGURE_TEXT: Record<Key, FigureText> = {
  blobs: { title: 'Blobs', unit: 'per 100 m', number: (v) => v.toFixed(v < 10 ? 1 : 0), floor: 0, ceiling: null },
  good: { title: 'Good strand', unit: '%', number: (v) => v.toFixed(0), floor: 0, ceiling: 100 },
  spread: { title: 'Spread of the diameter (σ)', unit: 'mm', number: (v) => v.toFixed(3), floor: 0, ceiling: null },
  mean: { title: 'Mean diameter', unit: 'mm', number: (v) => v.toFixed(3), floor: null, ceiling: null },
  troubles: {
    title: 'Alarms about heat, gauge or cable',
    unit: 'a night',
    number: (v) => v.toFixed(1),
    floor: 0,
    ceiling: null,
  },
};

/** How the figure changed, as one sentence that agrees with its test: "Since 12 Mar 2026: 1.9 per 100 m, before that 4.1." */
export function trendText({ key, periods }: TrendFigure, nights: readonly TrendNight[], needed: number): string {
  const { number, unit, floor, ceiling } = FIGURE_TEXT[key];
  const last = periods.at(-1);
  if (last === undefined) return 'Not measured on any night.';
  const level = ({ level: rate }: (typeof periods)[number]) =>
    rate === null ? 'none' : `${number(rate.value)} ${unit}`;
  const before = periods.at(-2);
  if (before === undefined) {
    const range =
      last.level &&
      `, 95 % sure: ${number(Math.max(floor ?? last.level.lower, last.level.lower))} to ${number(Math.min(ceiling ?? last.level.upper, last.level.upper))}`;
    const known = nights.length < needed ? 'On average' : 'No change shown:';
    return `${known} ${level(last)}${range ?? ''}.`;
  }
  const { startedMs, timeZone } = nights[last.from]!;
  const earlier = periods.length === 2 ? '' : ` It had changed before, ${counted(periods.length - 2, 'time')}.`;
  return `Since ${dayOfYear(startedMs, timeZone)}: ${level(last)}, before that ${level(before)}.${earlier}`;
}

/** How most nights since the last change were prepared differently: an observation, not a cause. */
export function preparationText({ periods }: TrendFigure): string {
  const changes = periods.at(-1)?.preparedOtherwise ?? [];
  return changes.length === 0 ? '' : `Prepared differently since then: ${listed(changes)}.`;
}
