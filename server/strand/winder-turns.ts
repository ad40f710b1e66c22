/** Where winding started, according to the winder's turn counter. */
export interface WindingStart {
  /** Strand that had passed the gauge by then, mm. */
  readonly gaugeMm: number;
  readonly timeMs: number;
  /** The counter started again, as it does for an empty spool. */
  readonly restarted: boolean;
}

interface Count {
  readonly count: number;
  /** Where and when the counter first showed it. */
  readonly gaugeMm: number;
  readonly timeMs: number;
}

/** Steps of turns differ by less than this factor; a garbled count does not fit. */
const EVEN = 3;
/** A pause shorter than this many steps may not be a pause at all. */
const PAUSE_STEPS = 3;
/** Threading the strand to the winder takes more strand than this (common practice, no source), mm. */
const PAUSE_MM = 500;

/**
 * Finds the start of winding from the counter `turns`, which usually counts whole turns, sometimes parts of one. The
 * strand per step follows from the steps themselves, so the size of the spool is not needed.
 */
export class WinderTurns {
  /** The last four counts, newest last. */
  readonly #counts: Count[] = [];
  /** The counter restarted with the oldest of these: an empty spool. */
  #restarted = false;
  #windingStart: WindingStart | null = null;

  /**
   * Adds one reading; true if it shows that the winder is turning.
   * @param deviceRestarted all counters of the board started again, which says nothing about the spool
   */
  step(timeMs: number, gaugeMm: number, count: number, deviceRestarted: boolean): boolean {
    this.#windingStart = null;
    const counts = this.#counts;
    if (deviceRestarted) {
      counts.length = 0;
      this.#restarted = false;
    }
    const last = counts.at(-1);
    if (Number.isNaN(count) || count === last?.count) return false;
    if (last !== undefined && count < last.count) {
      counts.length = 0;
      this.#restarted = true;
    }
    counts.push({ count, gaugeMm, timeMs });
    if (counts.length > 4) {
      counts.shift();
      this.#restarted = false;
    }
    const [before, first, second, third] = counts;
    if (before === undefined || first === undefined || second === undefined || third === undefined) return false;
    const a = mmPerCount(first, second);
    const b = mmPerCount(second, third);
    if (!(a > 0 && b > 0 && a < EVEN * b && b < EVEN * a)) return false;
    const firstStep = first.count - before.count;
    const stepMm = firstStep * ((third.gaugeMm - first.gaugeMm) / (third.count - first.count));
    const evenSteps = firstStep < EVEN * Math.max(second.count - first.count, third.count - second.count);
    const pauseMm = first.gaugeMm - before.gaugeMm;
    if (evenSteps && (this.#restarted || pauseMm > Math.max(PAUSE_MM, PAUSE_STEPS * stepMm))) {
      // Where within its step the counter was is unknown; the middle is at most half a step off.
      const beforeMm = Math.min(stepMm / 2, pauseMm);
      const msPerMm = (third.timeMs - first.timeMs) / (third.gaugeMm - first.gaugeMm);
      this.#windingStart = {
        gaugeMm: first.gaugeMm - beforeMm,
        timeMs: first.timeMs - beforeMm * msPerMm,
        restarted: this.#restarted,
      };
    }
    return true;
  }

  /** The start of winding, if the last reading revealed it; null otherwise, or if the winder was already turning. */
  get windingStart(): WindingStart | null {
    return this.#windingStart;
  }
}

function mmPerCount(from: Count, to: Count): number {
  return (to.gaugeMm - from.gaugeMm) / (to.count - from.count);
}
