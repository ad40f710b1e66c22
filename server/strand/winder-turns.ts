/** Where the winder took up strand, as its turn counter tells. */
export interface WindingBegin {
  /** Strand that had passed the gauge then, mm. */
  readonly gaugeMm: number;
  readonly timeMs: number;
}

interface Count {
  readonly count: number;
  /** Where and when it was first told. */
  readonly gaugeMm: number;
  readonly timeMs: number;
}

/** Steps that agree with each other within this are turns; a garbled count does not. */
const EVEN = 3;
/** A counter that stood for less strand than so many of its steps need not have stood at all. */
const REST_STEPS = 3;
/** Threading the strand to the winder takes more than this (common practice, no source). */
const REST_MM = 500;

/**
 * Watches the counter `turns`. It counts whole turns as a rule, or parts of turns: how much strand a step takes shows in
 * the steps themselves, so nothing need be known of the spool.
 */
export class WinderTurns {
  /** The last four counts, newest last. */
  readonly #counts: Count[] = [];
  /** It began anew with the oldest of these: an empty spool. */
  #anew = false;
  #began: WindingBegin | null = null;

  /** One reading. True = at this one the winder was found to count. */
  step(timeMs: number, gaugeMm: number, count: number): boolean {
    this.#began = null;
    const counts = this.#counts;
    const last = counts.at(-1);
    if (Number.isNaN(count) || count === last?.count) return false;
    if (last !== undefined && count < last.count) {
      counts.length = 0;
      this.#anew = true;
    }
    counts.push({ count, gaugeMm, timeMs });
    if (counts.length > 4) {
      counts.shift();
      this.#anew = false;
    }
    const [rest, first, second, third] = counts;
    if (rest === undefined || first === undefined || second === undefined || third === undefined) return false;
    const a = mmPerCount(first, second);
    const b = mmPerCount(second, third);
    if (!(a > 0 && b > 0 && a < EVEN * b && b < EVEN * a)) return false;
    const firstStep = first.count - rest.count;
    const stepMm = firstStep * ((third.gaugeMm - first.gaugeMm) / (third.count - first.count));
    const evenSteps = firstStep < EVEN * Math.max(second.count - first.count, third.count - second.count);
    const restedMm = first.gaugeMm - rest.gaugeMm;
    if (evenSteps && (this.#anew || restedMm > Math.max(REST_MM, REST_STEPS * stepMm))) {
      // Where within its step the counter stood is not known: the middle is at most half a step off.
      const beforeMm = Math.min(stepMm / 2, restedMm);
      const msPerMm = (third.timeMs - first.timeMs) / (third.gaugeMm - first.gaugeMm);
      this.#began = { gaugeMm: first.gaugeMm - beforeMm, timeMs: first.timeMs - beforeMm * msPerMm };
    }
    return true;
  }

  /** At the last reading it showed that winding had begun; null = it did not, or the winder turned before. */
  get began(): WindingBegin | null {
    return this.#began;
  }
}

function mmPerCount(from: Count, to: Count): number {
  return (to.gaugeMm - from.gaugeMm) / (to.count - from.count);
}
