import { normalCdf } from '../probability/distributions.ts';

/** A sweep ends when the reading has gone through so many of the sensor's steps: its noise was then seen at their edges and amid them. */
const SWEEP_STEPS = 4;
/** A faster one has hardly a reading a step; one slower than this may have rested at an edge, s. */
const LEAST_READINGS = 16;
const LONGEST_SWEEP_S = 60;
/** Readings within sweeps after which the noise counts as known. */
const READINGS_TO_KNOW = 150;
/**
 * The share of readings that reverse (down after up, up after down) while a sensor with Gauss' noise is slowly swept through its
 * steps, for noise of so many steps, standard deviation. Faster sweeps have fewer, so that the noise is taken for smaller.
 */
const REVERSALS = [
  { share: 0.27, steps: 0.25 },
  { share: 0.317, steps: 0.3 },
  { share: 0.39, steps: 0.4 },
  { share: 0.439, steps: 0.5 },
  { share: 0.476, steps: 0.6 },
  { share: 0.523, steps: 0.8 },
  { share: 0.551, steps: 1 },
] as const;
/** The share of reversals may have come out too large by so many standard errors, and the noise may be smaller since by this factor. */
const SIGMAS = 2;
const MARGIN = 0.9;
/** ln of one in a thousand million: there are a million readings in a night. */
const NO_CHANCE_LN = 20.7;

/**
 * How large a coarse sensor's noise is, told from heat-ups: while a zone rests amid a step, noise smaller than a step hardly shows,
 * and at an edge it shows too much; while the zone goes through several steps it shows as much as it is.
 */
export class SweptNoise {
  #fromValue = Number.NaN;
  #fromMs = Number.NaN;
  #readingsInSweep = 0;
  #reversalsInSweep = 0;
  #readings = 0;
  #reversals = 0;

  /** One reading; `resolutionK`: the sensor's step, 0 = not known. */
  add(value: number, timeMs: number, reversed: boolean, resolutionK: number): void {
    this.#readingsInSweep++;
    if (reversed) this.#reversalsInSweep++;
    if (Math.abs(value - this.#fromValue) < SWEEP_STEPS * resolutionK) return;
    const slowEnough = this.#readingsInSweep >= LEAST_READINGS && timeMs - this.#fromMs < 1000 * LONGEST_SWEEP_S;
    if (resolutionK > 0 && slowEnough) {
      this.#readings += this.#readingsInSweep;
      this.#reversals += this.#reversalsInSweep;
    }
    this.begin(value, timeMs);
  }

  begin(value: number, timeMs: number): void {
    this.#fromValue = value;
    this.#fromMs = timeMs;
    this.#readingsInSweep = 0;
    this.#reversalsInSweep = 0;
  }

  /** Standard deviation of the noise in steps of the sensor, rather less than more; 0 = not known, or too small to tell. */
  get steps(): number {
    if (this.#readings < READINGS_TO_KNOW) return 0;
    const found = this.#reversals / this.#readings;
    const share = found - SIGMAS * Math.sqrt((found * (1 - found)) / this.#readings);
    const above = REVERSALS.findIndex((row) => row.share > share);
    const upper = REVERSALS[above];
    const lower = REVERSALS[above - 1];
    if (upper === undefined) return REVERSALS[REVERSALS.length - 1]!.steps;
    if (lower === undefined) return 0;
    return lower.steps + ((share - lower.share) / (upper.share - lower.share)) * (upper.steps - lower.steps);
  }

  /** So many readings, all the same, are no chance even where the true value lies amid a step. */
  get noChanceReadings(): number {
    const { steps } = this;
    if (steps === 0) return Number.POSITIVE_INFINITY;
    const same = 2 * normalCdf(0.5 / (MARGIN * steps)) - 1;
    return NO_CHANCE_LN / -Math.log(same);
  }
}
