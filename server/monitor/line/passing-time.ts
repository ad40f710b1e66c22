/** After this time at rest, a stop stated by a user expires, so that the next run starts automatically. */
const REST_ENDS_STOP_MS = 60_000;
const CLOCK_STEP_MS = 2000;

/** The stage `stopped` as stated by a user. */
export type StatedStop =
  | { readonly is: 'absent' }
  /** The line is still moving or heated. */
  | { readonly is: 'inForce' }
  /** The line has been at rest since then. */
  | { readonly is: 'resting'; readonly sinceMs: number }
  /** The stage is determined automatically again. */
  | { readonly is: 'over' };

export interface StopSigns {
  readonly nowMs: number;
  readonly stoppedByUser: boolean;
  /** At the last reading nothing was heated and nothing moved. */
  readonly atRest: boolean;
  /** Since the last reading, s. */
  readonly quietForS: number;
}

export function nextStatedStop(stop: StatedStop, signs: StopSigns): StatedStop {
  const { nowMs, stoppedByUser, atRest, quietForS } = signs;
  if (!stoppedByUser) return { is: 'absent' };
  if (!atRest && quietForS * 1000 <= REST_ENDS_STOP_MS) return { is: 'inForce' };
  const sinceMs = stop.is === 'resting' ? stop.sinceMs : nowMs;
  return nowMs - sinceMs < REST_ENDS_STOP_MS ? { is: 'resting', sinceMs } : { is: 'over' };
}

/** The wall clock relative to the clock of the service. */
export type WallClock =
  | { readonly is: 'inStep' }
  /** It was set during a run, which keeps its own time. */
  | { readonly is: 'steppedInRun'; readonly stepMs: number }
  /** It was set while nothing was recorded, so the clock of the service must follow it. */
  | { readonly is: 'followed'; readonly stepMs: number };

/** @param stepMs how far the wall clock is ahead; negative = behind */
export function nextWallClock(clock: WallClock, stepMs: number, duringRun: boolean): WallClock {
  if (Math.abs(stepMs) < CLOCK_STEP_MS) return { is: 'inStep' };
  if (!duringRun) return { is: 'followed', stepMs };
  const reportedMs = clock.is === 'steppedInRun' ? clock.stepMs : 0;
  return Math.abs(stepMs - reportedMs) > CLOCK_STEP_MS ? { is: 'steppedInRun', stepMs } : clock;
}
