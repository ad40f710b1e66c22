import { Problem } from '../problem/problem.ts';
import type { AlarmType } from './alarm.ts';
import { DANGERS } from './first-out.ts';

/** A user's request to shelve an alarm. */
export interface ShelvingRequest {
  /** Minutes; null = until the run ends. */
  readonly forMin: number | null;
  /** '' = none given. */
  readonly reason: string;
  /** Whether a run is in progress; if not, `forMin` must not be null. */
  readonly runUnderWay: boolean;
}

/** What an accepted request comes to: when the shelving ends, and why it was asked for. */
export interface Shelving {
  readonly untilMs: number;
  readonly untilRunEnds: boolean;
  readonly reason: string;
}

/** Longest time that an alarm can be shelved, min. Common practice, no source: a shift or a night, then a user checks again. */
const SHELF_MAX_MIN = 24 * 60;
/** The same for alarms about danger of fire, min. */
const DANGER_SHELF_MAX_MIN = 10;

/** The longest that an alarm of this type may be shelved, min. */
export function longestShelfMin(type: AlarmType): number {
  return DANGERS.has(type) ? DANGER_SHELF_MAX_MIN : SHELF_MAX_MIN;
}

/** @throws Problem `bad-shelving`, `wrong-state` */
export function checkShelving(type: AlarmType, request: ShelvingRequest, nowMs: number): Shelving {
  const { forMin, runUnderWay } = request;
  const mostMin = longestShelfMin(type);
  const reason = request.reason.trim();
  if (forMin === null) {
    if (DANGERS.has(type)) throw tooLong(mostMin, 'until the run ends');
    if (!runUnderWay)
      throw new Problem(
        'wrong-state',
        'No run is in progress, so the alarm cannot be silenced until the run ends.',
        'Give a number of minutes instead.',
        { pointer: '/forMin' },
      );
    return { untilMs: nowMs + mostMin * 60_000, untilRunEnds: true, reason };
  }
  if (!Number.isFinite(forMin) || forMin <= 0)
    throw new Problem('bad-shelving', `An alarm cannot be silenced for ${forMin} min.`, `Give 1 to ${mostMin} min.`, {
      pointer: '/forMin',
    });
  if (forMin > mostMin) throw tooLong(mostMin, `for ${forMin} min`);
  return { untilMs: nowMs + forMin * 60_000, untilRunEnds: false, reason };
}

function tooLong(mostMin: number, requested: string): Problem {
  return new Problem(
    'bad-shelving',
    `This alarm cannot be silenced ${requested}; the longest time is ${mostMin} min.`,
    mostMin === DANGER_SHELF_MAX_MIN
      ? 'Choose a shorter time: a fire hazard has to be checked again soon.'
      : 'Choose a shorter time, or take it out of service and give a reason.',
    { pointer: '/forMin' },
  );
}
