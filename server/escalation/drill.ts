import { DAY_MIN, localMinute, localWeekday, minuteOf, minutesFrom } from './contact.ts';
import type { DrillSchedule } from './escalation-rules.ts';

/** A drill may start this long after its scheduled time. */
const DUE_FOR_MIN = 5;
const DUE_FOR_MS = DUE_FOR_MIN * 60_000;
const HOUR_MS = 3_600_000;

/** An alarm test: a message that people must confirm. Times UTC ms. */
export interface Drill {
  readonly id: number;
  readonly startedMs: number;
  /** User who started it, or 'the schedule'. */
  readonly by: string;
  /** Anyone who has not confirmed by then counts as not reached. */
  readonly untilMs: number;
  readonly people: readonly DrillPerson[];
}

interface DrillPerson {
  readonly contactId: number;
  readonly name: string;
  readonly confirmedMs: number | null;
}

export type DrillOutcome = 'waiting' | 'all' | 'some' | 'none';

export function outcomeOf(drill: Drill, nowMs: number): DrillOutcome {
  const confirmed = drill.people.filter(({ confirmedMs }) => confirmedMs !== null).length;
  if (confirmed > 0 && confirmed === drill.people.length) return 'all';
  // If it starts further in the future than it lasts, it was started while the clock was ahead, and is over. A small correction
  // of the clock during a drill is normal.
  const startedAhead = drill.startedMs - nowMs > drill.untilMs - drill.startedMs;
  if (nowMs < drill.untilMs && !startedAhead) return 'waiting';
  return confirmed === 0 ? 'none' : 'some';
}

/** Records a person's confirmation; a second one changes nothing. */
export function confirmed(drill: Drill, contactId: number, nowMs: number): Drill {
  return {
    ...drill,
    people: drill.people.map((one) =>
      one.contactId === contactId && one.confirmedMs === null ? { ...one, confirmedMs: nowMs } : one,
    ),
  };
}

/**
 * Whether a scheduled drill is due: its time was within the last minutes, and none has started since. If the service was off at
 * that time, the drill is skipped. When the clocks go back, it is due in the first of the two hours; when they go forward and skip
 * its time, it is due right after.
 */
export function drillDue(
  schedule: DrillSchedule | null,
  lastStartedMs: number | null,
  nowMs: number,
  timeZone: string,
): boolean {
  if (schedule === null || !schedule.weekdays.includes(localWeekday(nowMs, timeZone))) return false;
  const at = minuteOf(schedule.at);
  if (!hasJustPassed(at, nowMs, timeZone)) return false;
  if (lastStartedMs === null) return true;
  if (Math.abs(nowMs - lastStartedMs) <= DUE_FOR_MS) return false;
  const anHourAgo = Math.abs(nowMs - lastStartedMs) < 2 * HOUR_MS;
  return !(anHourAgo && hasJustPassed(at, lastStartedMs, timeZone));
}

/** The local clock showed this minute of the day within the last minutes, or skipped it when it went forward. */
function hasJustPassed(minute: number, nowMs: number, timeZone: string): boolean {
  const now = localMinute(nowMs, timeZone);
  const before = localMinute(nowMs - DUE_FOR_MS, timeZone);
  const shown = now >= minute && now - minute < DUE_FOR_MIN;
  const passed = minutesFrom(before, now);
  // Beyond half a day it went back.
  const wentForward = passed > DUE_FOR_MIN && passed < DAY_MIN / 2;
  const skipped = wentForward && before !== minute && minutesFrom(before, minute) <= passed;
  return shown || skipped;
}
