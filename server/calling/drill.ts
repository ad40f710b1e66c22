import type { DrillSchedule } from './calling-rules.ts';
import { localMinute, localWeekday, minuteOf } from './contact.ts';

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

export interface DrillPerson {
  readonly contactId: number;
  readonly name: string;
  readonly confirmedMs: number | null;
}

export type DrillOutcome = 'waiting' | 'everybody' | 'some' | 'nobody';

export function outcomeOf(drill: Drill, nowMs: number): DrillOutcome {
  const confirmed = drill.people.filter(({ confirmedMs }) => confirmedMs !== null).length;
  if (confirmed > 0 && confirmed === drill.people.length) return 'everybody';
  if (nowMs < drill.untilMs) return 'waiting';
  return confirmed === 0 ? 'nobody' : 'some';
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
 * off at the time leaves it out rather than ringing at an odd hour.
 */
export function drillDue(
  schedule: DrillSchedule | null,
  lastStartedMs: number | null,
  nowMs: number,
  timeZone: string,
): boolean {
  if (schedule === null || !schedule.weekdays.includes(localWeekday(nowMs, timeZone))) return false;
  const late = localMinute(nowMs, timeZone) - minuteOf(schedule.at);
  if (late < 0 || late >= DUE_FOR_MIN) return false;
  return lastStartedMs === null || nowMs - lastStartedMs > DUE_FOR_MIN * 60_000;
}

const DUE_FOR_MIN = 5;
