/** Chance that an unclipped gauge repeats its highest reading so often; the highest reading is reached seldom, so that is one in thousands of nights. */
const BY_CHANCE = 3e-5;
/** From this many readings on it is known how often two in a row are equal. */
const KNOWN_AFTER = 200;
/** At least this share of readings is taken to equal the one before by chance. */
const LEAST_SHARE = 0.02;
/** If a gauge repeats itself more often, equal readings prove nothing. */
const DULL_SHARE = 0.5;
/** Within so many steps of its resolution below the highest reading, an unclipped gauge has been more often than at it. */
const NEAR_STEPS = 2.1;
const NEAR_MM_MAX = 0.1;
/** The smallest change counts as the resolution once it was seen so often. */
const STEP_SEEN = 5;
const PILE = 3;
/** Fewer readings are found the higher one looks, so of those on three neighbouring values this share at most is on the highest. */
const HIGHEST_SHARE = 1 / 3;
/** Equal but for the rounding of sums. */
const SAME_MM = 1e-7;

/**
 * Finds the end of the gauge's range, at any level. A reading is at the end of it while the highest of all is repeated exactly
 * more often than chance allows. Where it was reached in several places, without a crowd of readings just below it, the range
 * ends there: a gauge that stood still for a while has only been in one.
 */
export class GaugeRangeEnd {
  #last = Number.NaN;
  #highestMm = Number.NEGATIVE_INFINITY;
  /** Readings at the highest so far, and just below it. */
  #atHighest = 0;
  #nearHighest = 0;
  #places = 0;
  #inRow = 0;
  #readings = 0;
  #repeats = 0;
  /** The gauge's resolution, mm; a smaller change that has not been seen often, and how often. */
  #stepMm = Number.POSITIVE_INFINITY;
  #smallerMm = Number.POSITIVE_INFINITY;
  #smallerSeen = 0;
  #nearMm = NEAR_MM_MAX;
  /** Where it was first reached; NaN = nowhere. */
  sinceMm = Number.NaN;
  sinceTimeMs = Number.NaN;
  /** The highest diameter that the gauge can send, mm; NaN = no end of its range has shown. */
  endMm = Number.NaN;

  step(timeMs: number, gaugeMm: number, diameterMm: number): void {
    const highest = this.#highestMm;
    if (diameterMm > highest) this.#rise(timeMs, gaugeMm, diameterMm);
    else if (diameterMm === highest) {
      this.#atHighest++;
      if (this.#last === highest) this.#inRow++;
      else {
        this.#inRow = 1;
        this.#places++;
      }
      if (this.#isEnd()) this.endMm = highest;
    } else {
      // Repeats at the end of the range say nothing about how often the gauge repeats itself.
      this.#readings++;
      const change = Math.abs(diameterMm - this.#last);
      if (change === 0) this.#repeats++;
      else if (change < this.#stepMm - SAME_MM) this.#noteSmaller(change);
      if (diameterMm > highest - this.#nearMm) this.#nearHighest++;
    }
    this.#last = diameterMm;
  }

  /** The last reading is at the end of the range: the strand may be any diameter above it. */
  get isAtEnd(): boolean {
    if (this.#last !== this.#highestMm) return false;
    return this.#last === this.endMm || this.#isNoChance(this.#inRow);
  }

  #noteSmaller(changeMm: number): void {
    if (changeMm > this.#smallerMm + SAME_MM) return;
    if (changeMm < this.#smallerMm - SAME_MM) this.#smallerSeen = 0;
    this.#smallerMm = changeMm;
    if (++this.#smallerSeen < STEP_SEEN) return;
    this.#stepMm = changeMm;
    this.#nearMm = Math.min(NEAR_STEPS * changeMm, NEAR_MM_MAX);
    this.#smallerMm = Number.POSITIVE_INFINITY;
  }

  #rise(timeMs: number, gaugeMm: number, diameterMm: number): void {
    const isNear = diameterMm - this.#highestMm < this.#nearMm;
    this.#nearHighest = isNear ? this.#nearHighest + this.#atHighest : 0;
    this.#highestMm = diameterMm;
    this.#atHighest = 1;
    this.#places = 1;
    this.#inRow = 1;
    this.sinceMm = gaugeMm;
    this.sinceTimeMs = timeMs;
    this.endMm = Number.NaN;
  }

  #isEnd(): boolean {
    return (
      this.#places > 1 &&
      this.#atHighest > PILE * this.#nearHighest &&
      this.#isNoChance(this.#atHighest) &&
      this.#pileChance < BY_CHANCE
    );
  }

  /** Chance of so many readings at the highest rather than just below it, at most: Chernoff's bound of a binomial tail. */
  get #pileChance(): number {
    const all = this.#atHighest + this.#nearHighest;
    const at = this.#atHighest / all;
    const below = at < 1 ? (1 - at) * Math.log((1 - at) / (1 - HIGHEST_SHARE)) : 0;
    return Math.exp(-all * (at * Math.log(at / HIGHEST_SHARE) + below));
  }

  /** Readings of an unclipped gauge are hardly ever equal so many times. */
  #isNoChance(times: number): boolean {
    if (this.#readings < KNOWN_AFTER) return false;
    const share = Math.max(LEAST_SHARE, this.#repeats / this.#readings);
    return share < DULL_SHARE && share ** (times - 1) < BY_CHANCE;
  }
}
