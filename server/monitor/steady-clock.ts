/** UTC milliseconds now; what a room or adapter needs of a clock. */
export type Clock = () => number;

/**
 * UTC milliseconds that never step by themselves: the wall clock as it stood at the anchor, carried on by the machine's
 * monotonic clock. A correction of the wall clock (NTP, a person) moves no reading and no length; whoever knows that
 * nothing is being recorded may anchor anew.
 */
export class SteadyClock {
  #anchorMs = Date.now() - performance.now();

  nowMs(): number {
    return this.#anchorMs + performance.now();
  }

  /** How far the wall clock has moved ahead of this one since the anchor, ms; negative = set back. */
  behindWallMs(): number {
    return Date.now() - this.nowMs();
  }

  /** Follow the wall clock as it stands now. */
  anchor(): void {
    this.#anchorMs = Date.now() - performance.now();
  }
}
