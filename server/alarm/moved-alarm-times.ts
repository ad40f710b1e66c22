import type { Alarm } from './alarm.ts';

const TIMES = ['raisedMs', 'lastOccurredMs', 'returnedMs', 'ceasedMs', 'acknowledgedMs'] as const;
const TIMES_OF_SUPPRESSION = ['sinceMs', 'untilMs'] as const;

/** The fields that hold times. Alarms of the first releases lack some. */
export type TimesOfAlarm = { readonly [name in (typeof TIMES)[number]]?: number | null } & {
  readonly suppression?: { readonly [name in (typeof TIMES_OF_SUPPRESSION)[number]]?: number | null } | null;
};

/** By how much a run was moved, and which times of its alarms, by alarm. Others were added later and have the right date. */
export interface MovedTimes {
  readonly byMs: number;
  readonly times: ReadonlyMap<number, ReadonlySet<number>>;
}

/** All times in an alarm. */
export function timesIn(alarm: TimesOfAlarm): number[] {
  const suppression = alarm.suppression ?? {};
  return [...TIMES.map((name) => alarm[name]), ...TIMES_OF_SUPPRESSION.map((name) => suppression[name])].filter(
    (ms) => typeof ms === 'number',
  );
}

/**
 * An alarm after the date of its run was corrected.
 * @param times those of its times that are to be moved; others were added later and have the right date
 */
export function withMovedTimes<T extends TimesOfAlarm | Alarm>(alarm: T, times: ReadonlySet<number>, byMs: number): T {
  const movedOf = <O extends object>(from: O, names: readonly (keyof O)[]): O => {
    const changed = { ...from };
    for (const name of names) {
      const ms: unknown = from[name];
      if (typeof ms === 'number' && times.has(ms)) changed[name] = (ms + byMs) as O[keyof O];
    }
    return changed;
  };
  const moved = movedOf(alarm, [...TIMES]);
  const { suppression } = alarm;
  return suppression ? { ...moved, suppression: movedOf(suppression, [...TIMES_OF_SUPPRESSION]) } : moved;
}
