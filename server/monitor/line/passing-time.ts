/** What time alone changes: a person's "stopped" that has served its purpose, and a wall clock that was set. */

/** A person's "stopped" ends once the line has been at rest this long, so that the next evening starts automatically. */
const REST_ENDS_STOP_MS = 60_000;
const CLOCK_STEP_MS = 2000;

/** The stage `stopped` as stated by a person. */
export type StatedStop =
  | { readonly is: 'absent' }
  /** The line still moves or is heated. */
  | { readonly is: 'inForce' }
  /** The line has been at rest since then. */
  | { readonly is: 'resting'; readonly sinceMs: number }
  /** Served its purpose: the line tells its own stage again. */
  | { readonly is: 'over' };

export interface StopSigns {
  readonly nowMs: number;
  readonly stoppedByPerson: boolean;
  /** By the last reading nothing is heated and nothing moves. */
  readonly atRest: boolean;
  /** Since the last reading, s. */
  readonly quietForS: number;
}

export function nextStatedStop(stop: StatedStop, signs: StopSigns): StatedStop {
  const { nowMs, stoppedByPerson, atRest, quietForS } = signs;
  if (!stoppedByPerson) return { is: 'absent' };
  if (!atRest && quietForS * 1000 <= REST_ENDS_STOP_MS) return { is: 'inForce' };
  const sinceMs = stop.is === 'resting' ? stop.sinceMs : nowMs;
  return nowMs - sinceMs < REST_ENDS_STOP_MS ? { is: 'resting', sinceMs } : { is: 'over' };
}

/** The wall clock compared with the clock of the service. */
export type WallClock =
  | { readonly is: 'inStep' }
  /** It was set while a run was under way, which keeps its own time. */
  | { readonly is: 'steppedInRun'; readonly stepMs: number }
  /** It was set while nothing was recorded: the clock of the service has to follow it. */
  | { readonly is: 'followed'; readonly stepMs: number };

/** @param stepMs how far the wall clock is ahead; negative = behind */
export function nextWallClock(clock: WallClock, stepMs: number, runUnderWay: boolean): WallClock {
  if (Math.abs(stepMs) < CLOCK_STEP_MS) return { is: 'inStep' };
  if (!runUnderWay) return { is: 'followed', stepMs };
  const knownMs = clock.is === 'steppedInRun' ? clock.stepMs : 0;
  return Math.abs(stepMs - knownMs) > CLOCK_STEP_MS ? { is: 'steppedInRun', stepMs } : clock;
}
