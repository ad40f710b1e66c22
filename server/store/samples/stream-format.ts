/**
 * How the integers of a group are encoded; each group uses the cheapest mode.
 * constant: one value. level: distance from the group's mean (white noise). delta: differences, as distance from their
 * mean (clocks). held: how long the value follows a straight line, and its jumps from there (repeated values, length
 * counters). every: a sensor that changes at every p-th reading only, as the differences between those readings.
 */
export const MODE = { constant: 0, level: 1, delta: 2, held: 3, every: 4 } as const;
/** The lower bits of the first byte are the mode, the upper ones a Rice parameter. */
export const MODE_BITS = 3;
export const MODE_MASK = 7;

/** Slopes are stored in this fraction of a step per reading. */
export const SLOPE_BITS = 8;
export const SLOPE_UNIT = 1 << SLOPE_BITS;

/** The steps of a straight line over integers. */
export class Line {
  readonly #whole: number;
  readonly #part: number;
  #sum = SLOPE_UNIT / 2;

  constructor(slope: number) {
    this.#whole = Math.floor(slope / SLOPE_UNIT) | 0;
    this.#part = (slope - this.#whole * SLOPE_UNIT) | 0;
  }

  step(): number {
    const sum = (this.#sum + this.#part) | 0;
    this.#sum = sum & (SLOPE_UNIT - 1);
    return (this.#whole + (sum >> SLOPE_BITS)) | 0;
  }
}
