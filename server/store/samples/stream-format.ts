/**
 * How the integers of a group are told; the cheapest is taken, group by group.
 * constant: one value. level: distance from the group's mean (white noise). delta: differences, as distance from their
 * mean (clocks). held: how long the value keeps to a straight line, and its jumps from there (what is sent again and
 * again, length counters). every: a sensor that is read at every p-th reading only, told as the differences of what it
 * said then.
 */
export const MODE = { constant: 0, level: 1, delta: 2, held: 3, every: 4 } as const;
/** The lower bits of the first byte are the mode, the upper ones a Rice parameter. */
export const MODE_BITS = 3;
export const MODE_MASK = 7;

/** Slopes are told in this fraction of a step a reading. */
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
