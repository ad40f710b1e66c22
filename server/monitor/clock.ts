/** UTC milliseconds now. */
export type Clock = () => number;

/** A clock that moved by more against a steady one was set: left alone, two clocks drift apart by less in days. */
export const CLOCK_SET_MS = 60_000;

/**
 * UTC milliseconds that never jump: the wall clock as first read, carried forward by the machine's monotonic clock. Setting
 * the wall clock (by NTP or a user) therefore moves no reading and no length. It is followed only while nothing is recorded.
 */
export class MonotonicClock {
  #offsetMs: number | null = null;

  nowMs(): number {
    this.#offsetMs ??= wallOffsetMs();
    return this.#offsetMs + performance.now();
  }

  /** ms from any origin: for lengths of time, because it is not set either when the wall clock is followed. */
  steadyMs(): number {
    return performance.now();
  }

  /** How far the wall clock is ahead of this one, ms; negative = behind. */
  wallClockAheadMs(): number {
    return Date.now() - this.nowMs();
  }

  followWallClock(): void {
    this.#offsetMs = wallOffsetMs();
  }
}

function wallOffsetMs(): number {
  return Date.now() - performance.now();
}
