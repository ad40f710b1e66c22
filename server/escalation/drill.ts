import { localMinute, localWeekday, minuteOf } from './contact.ts';
import type { DrillSchedule } from './escalation-rules.ts';

/** A test alarm on the real way to people's hands. Times UTC ms. */
export interface Drill {
  readonly id: number;
  readonly startedMs: number;
  /** Who pressed the button, or 'the schedule'. */
  readonly by: string;
  /** Whoever has not confirmed by then was not reached. */
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
  // One that began longer ahead than it lasts began while the clock was ahead: nobody can confirm it any more. A clock that is put
  // back a little while it goes on is an everyday thing.
  const beganAhead = drill.startedMs - nowMs > drill.untilMs - drill.startedMs;
  if (nowMs < drill.untilMs && !beganAhead) return 'waiting';
  return confirmed === 0 ? 'none' : 'some';
}

/** The person has confirmed; a second time changes nothing. */
export function confirmed(drill: Drill, contactId: number, nowMs: number): Drill {
  return {
    ...drill,
    people: drill.people.map((one) =>
      one.contactId === contactId && one.confirmedMs === null ? { ...one, confirmedMs: nowMs } : one,
    ),
  };
}

/**
 * Whether a drill of the schedule is due: its time was within the last minutes, and none began since. A service that was
 * off at the time leaves it out rather than ringing at an odd hour. In the night in which an hour comes twice it is due in the first
 * one; where its hour is left out, as soon as that is over.
 */
export function drillDue(
  schedule: DrillSchedule | null,
  lastStartedMs: number | null,
  nowMs: number,
  timeZone: string,
): boolean {
  if (schedule === null || !schedule.weekdays.includes(localWeekday(nowMs, timeZone))) return false;
  const at = minuteOf(schedule.at);
  if (!hasJustCome(at, nowMs, timeZone)) return false;
  if (lastStartedMs === null) return true;
  if (Math.abs(nowMs - lastStartedMs) <= DUE_FOR_MS) return false;
  const anHourAgo = Math.abs(nowMs - lastStartedMs) < 2 * HOUR_MS;
  return !(anHourAgo && hasJustCome(at, lastStartedMs, timeZone));
}

const DUE_FOR_MIN = 5;
const DUE_FOR_MS = DUE_FOR_MIN * 60_000;
const HOUR_MS = 3_600_000;

/** The clock showed this minute of the day within the last minutes, or went past it when it was put forward. */
function hasJustCome(minute: number, nowMs: number, timeZone: string): boolean {
  const now = localMinute(nowMs, timeZone);
  const before = localMinute(nowMs - DUE_FOR_MS, timeZone);
  const shown = now >= minute && now - minute < DUE_FOR_MIN;
  const leftOut = now - before > DUE_FOR_MIN && before < minute && minute <= now;
  return shown || leftOut;
}
