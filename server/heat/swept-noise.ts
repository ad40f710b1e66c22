import { normalCdf } from '../probability/distributions.ts';

/** A sweep covers this many steps of the sensor, so that the noise is seen both at the edges of steps and between them. */
const SWEEP_STEPS = 4;
/** A faster sweep has too few readings per step. */
const LEAST_READINGS = 16;
/** A slower sweep may have stayed at the edge of a step, s. */
const LONGEST_SWEEP_S = 60;
/** Readings within sweeps after which the noise counts as known. */
const READINGS_TO_KNOW = 150;
/**
 * Share of readings that reverse (down after up, or up after down) while a sensor with Gaussian noise sweeps slowly through its
 * steps; `steps` is the noise's standard deviation in steps. Faster sweeps have fewer, so their noise is underestimated.
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
/** Standard errors by which the measured share may be too large. */
const SIGMAS = 2;
/** Factor by which the noise may have become smaller since. */
const MARGIN = 0.9;
/** −ln of one in a thousand million: a night has a million readings. */
const NO_CHANCE_LN = 20.7;

/**
 * Measures a coarse sensor's noise during heat-ups. While a zone rests between two edges, noise smaller than a step hardly shows;
 * at an edge it shows too much. While the zone sweeps through several steps, it shows as it is.
 */
export class SweptNoise {
  #fromValue = Number.NaN;
  #fromMs = Number.NaN;
  #readingsInSweep = 0;
  #reversalsInSweep = 0;
  #readings = 0;
  #reversals = 0;

  /** Takes one reading; `resolutionK`: the sensor's step, 0 = unknown. */
  add(value: number, timeMs: number, reversed: boolean, resolutionK: number): void {
    this.#readingsInSweep++;
    if (reversed) this.#reversalsInSweep++;
    if (Math.abs(value - this.#fromValue) < SWEEP_STEPS * resolutionK) return;
    const slowEnough = this.#readingsInSweep >= LEAST_READINGS && timeMs - this.#fromMs < 1000 * LONGEST_SWEEP_S;
    if (resolutionK > 0 && slowEnough) {
      this.#readings += this.#readingsInSweep;
      this.#reversals += this.#reversalsInSweep;
    }
    this.#start(value, timeMs);
  }

  #start(value: number, timeMs: number): void {
    this.#fromValue = value;
    this.#fromMs = timeMs;
    this.#readingsInSweep = 0;
    this.#reversalsInSweep = 0;
  }

  /** Standard deviation of the noise in steps of the sensor, never overestimated; 0 = unknown, or too small to measure. */
  get steps(): number {
    if (this.#readings < READINGS_TO_KNOW) return 0;
    const measured = this.#reversals / this.#readings;
    const share = measured - SIGMAS * Math.sqrt((measured * (1 - measured)) / this.#readings);
    let lower: { share: number; steps: number } | null = null;
    for (const upper of REVERSALS) {
      if (upper.share > share) {
        if (lower === null) return 0;
        return lower.steps + ((share - lower.share) / (upper.share - lower.share)) * (upper.steps - lower.steps);
      }
      lower = upper;
    }
    return lower?.steps ?? 0;
  }

  /** Number of identical readings that is not chance, even where the true value is in the middle of a step. */
  get noChanceReadings(): number {
    const { steps } = this;
    if (steps === 0) return Number.POSITIVE_INFINITY;
    const same = 2 * normalCdf(0.5 / (MARGIN * steps)) - 1;
    return NO_CHANCE_LN / -Math.log(same);
  }
}
