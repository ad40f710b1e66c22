import { SweptNoise } from './swept-noise.ts';

/** Reversals after which the sensor's noise counts as known. */
const REVERSALS_TO_KNOW = 30;
/**
 * Mean size of reversals, in steps. Above this the noise's standard deviation is about 0.4 steps or more, so that even in the
 * middle of a step about every third reading differs. Smaller noise flickers only at the edges of a step.
 */
const NOISE_STEPS = 1.3;
/**
 * Noise reverses from one value to the next or soon after. A zone that really swings by a few fine steps takes many values to
 * reverse.
 */
const REVERSAL_WITHIN_VALUES = 8;
/** Readings in a block, and the number of blocks kept. */
const BLOCK_READINGS = 50;
const BLOCKS = 6;
/** Least share of reversals: one reading in twenty. */
const LEAST_TREMBLE = 0.05;
/** Least share of reversals by more than one step: one reading in fifty. */
const LEAST_WIDE = 0.02;
/** Larger reversals count as more than one step, in steps. */
const WIDE_STEPS = 1.6;
/** Reversals missed in a row; the probability is e^−20. */
const NO_CHANCE = 20;
/** Changes in an epoch of the step-size estimate. */
const EPOCH_CHANGES = 64;
/** A larger single step is not noise, K. */
const NOISE_STEP_MAX_K = 3;

/** A sensor's stillness as rules see it: to look at, not to change. */
export type StillnessView = Omit<Stillness, 'add' | 'reset'>;

/**
 * How long a sensor has reported exactly the same value, and whether a healthy one would. A sensor that reports whole or quarter
 * kelvins may stay the same for as long as the zone is steady; one whose noise spans more than one step cannot.
 * Reversals (up, then down) distinguish noise from a heat-up.
 */
export class Stillness {
  #sinceMs = Number.NaN;
  #value = Number.NaN;
  #lastStep = 0;
  /** Of this and the previous epoch: a thermistor's steps grow with temperature, so old ones must be forgotten. */
  #smallestStep = Number.POSITIVE_INFINITY;
  #smallestBefore = Number.POSITIVE_INFINITY;
  #resolutionK = 0;
  #changes = 0;
  /** Share of reversals in each of the last blocks; a block ends with a change. */
  readonly #shares = new Float64Array(BLOCKS);
  /** Share of reversals by more than one step. */
  readonly #wide = new Float64Array(BLOCKS);
  #wideInBlock = 0;
  #block = 0;
  #readings = 0;
  #reversalsInBlock = 0;
  /** Readings since the last change. */
  #still = 0;
  #typicalReversal = 0;
  #reversals = 0;
  #lastReversalMs = Number.NaN;
  #reversalEveryMs = 0;
  /** Shortest time between two changes, ms: the sensor's refresh interval. */
  #refreshMs = Number.POSITIVE_INFINITY;
  readonly #swept = new SweptNoise();

  add(value: number, timeMs: number): void {
    this.#readings++;
    this.#still++;
    const step = value - this.#value;
    this.#swept.add(value, timeMs, step * this.#lastStep < 0, this.#resolutionK);
    if (value === this.#value) return;
    this.#still = 0;
    if (this.#readings >= BLOCK_READINGS) this.#closeBlock();
    this.#value = value;
    if (timeMs > this.#sinceMs) this.#refreshMs = Math.min(this.#refreshMs, timeMs - this.#sinceMs);
    this.#sinceMs = timeMs;
    const size = Math.abs(step);
    if (!(size <= NOISE_STEP_MAX_K)) {
      this.#lastStep = 0;
      return;
    }
    if (++this.#changes % EPOCH_CHANGES === 0) {
      this.#smallestBefore = this.#smallestStep;
      this.#smallestStep = Number.POSITIVE_INFINITY;
    }
    if (size > 1e-6 && size < this.#smallestStep) this.#smallestStep = size;
    const smallest = Math.min(this.#smallestStep, this.#smallestBefore);
    this.#resolutionK = Number.isFinite(smallest) ? smallest : 0;
    if (step * this.#lastStep < 0) this.#reversed(size, timeMs);
    this.#lastStep = step;
  }

  #reversed(size: number, timeMs: number): void {
    const every = timeMs - this.#lastReversalMs;
    this.#lastReversalMs = timeMs;
    this.#reversals++;
    this.#reversalsInBlock++;
    if (size > WIDE_STEPS * this.resolutionK) this.#wideInBlock++;
    const share = 1 / Math.min(this.#reversals, 200);
    this.#typicalReversal += (size - this.#typicalReversal) * share;
    if (every < 60_000) this.#reversalEveryMs += (every - this.#reversalEveryMs) * share;
  }

  /** Time of the last change, ms; NaN = no value yet. */
  get sinceMs(): number {
    return this.#sinceMs;
  }

  /** How long the value has been exactly the same, s; 0 before the first value. */
  stillForS(timeMs: number): number {
    return !Number.isNaN(this.#sinceMs) ? (timeMs - this.#sinceMs) / 1000 : 0;
  }

  /** The noise spans more than one step of the sensor, so a healthy one is never still. */
  get neverStill(): boolean {
    return (
      this.#reversals >= REVERSALS_TO_KNOW &&
      this.#typicalReversal >= NOISE_STEPS * this.resolutionK &&
      this.#reversalEveryMs <= REVERSAL_WITHIN_VALUES * this.#refreshMs
    );
  }

  #closeBlock(): void {
    this.#shares[this.#block % BLOCKS] = this.#reversalsInBlock / this.#readings;
    this.#wide[this.#block % BLOCKS] = this.#wideInBlock / this.#readings;
    this.#block++;
    this.#readings = 0;
    this.#reversalsInBlock = 0;
    this.#wideInBlock = 0;
  }

  /** Unchanged for so many readings that it is not chance, even given the calmest of the last blocks. */
  get isNoChance(): boolean {
    if (this.#block < BLOCKS) return false;
    const calmest = Math.min(...this.#shares);
    if (calmest >= LEAST_TREMBLE && this.#still > this.#swept.noChanceReadings) return true;
    // Reversals by a single step may occur at an edge between two steps, where even a calm sensor flickers.
    return calmest >= LEAST_TREMBLE && Math.min(...this.#wide) >= LEAST_WIDE && this.#still * calmest > NO_CHANCE;
  }

  /** Usual size of the noise, in steps of the sensor. */
  get noiseSteps(): number {
    return this.resolutionK > 0 ? this.#typicalReversal / this.resolutionK : 0;
  }

  /** How often the sensor's value is refreshed, s. */
  get refreshS(): number {
    return this.#refreshMs / 1000;
  }

  /** Usual time between two reversals, s. */
  get reversalEveryS(): number {
    return this.#reversalEveryMs / 1000;
  }

  /** The sensor's resolution, as the smallest change seen, K; 0 while unknown. */
  get resolutionK(): number {
    return this.#resolutionK;
  }

  reset(): void {
    this.#sinceMs = Number.NaN;
    this.#value = Number.NaN;
    this.#lastStep = 0;
    this.#lastReversalMs = Number.NaN;
  }
}
