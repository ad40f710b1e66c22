import { SweptNoise } from './swept-noise.ts';

/** Reversals after which the sensor's own noise counts as known. */
const REVERSALS_TO_KNOW = 30;
/**
 * Reversals of more than one step on average: the noise's standard deviation is some four tenths of a step or more, so that
 * even in the middle of a step every third reading or so differs. Smaller noise flickers at the edges of a step only.
 */
const NOISE_STEPS = 1.3;
/**
 * Noise goes up and down from one value to the next or soon after; a zone that truly swings by a few fine steps takes many of the
 * sensor's values for it.
 */
const REVERSAL_WITHIN_VALUES = 8;
/** Readings of a stretch, and how many stretches are kept. */
const BLOCK_READINGS = 50;
const BLOCKS = 6;
/** Trembles at least in every twentieth reading. */
const LEAST_TREMBLE = 0.05;
/** And by more than one step at least in every fiftieth. */
const LEAST_WIDE = 0.02;
const WIDE_STEPS = 1.6;
/** So many reversals missed in a row: a chance of e^−20. */
const NO_CHANCE = 20;
/** Changes that make an epoch. */
const EPOCH_CHANGES = 64;
/** A single step larger than this says nothing of noise, K. */
const NOISE_STEP_MAX_K = 3;

/**
 * How long a sensor has said exactly the same, and whether it ever does. A sensor that prints whole or quarter kelvins
 * may rightly hold still for as long as the zone is steady; one whose noise spans more than one of its steps cannot.
 * Noise is told from a heat-up by its reversals: up and then down.
 */
export class Stillness {
  /** Since when the value has not changed, ms; NaN = no value yet. */
  sinceMs = Number.NaN;
  #value = Number.NaN;
  #lastStep = 0;
  /** Of this and of the epoch before: a thermistor's steps grow with temperature, so old ones must be forgotten. */
  #smallestStep = Number.POSITIVE_INFINITY;
  #smallestBefore = Number.POSITIVE_INFINITY;
  #changes = 0;
  /** Reversals a reading in each of the last stretches; a stretch ends with a change. */
  readonly #shares = new Float64Array(BLOCKS);
  /** The same of reversals by more than one step. */
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
  /** Shortest time between two changes, ms: that in which the sensor's value is renewed. */
  #renewedEveryMs = Number.POSITIVE_INFINITY;
  readonly #swept = new SweptNoise();

  add(value: number, timeMs: number): void {
    this.#readings++;
    this.#still++;
    const step = value - this.#value;
    this.#swept.add(value, timeMs, step * this.#lastStep < 0, this.resolutionK);
    if (value === this.#value) return;
    this.#still = 0;
    if (this.#readings >= BLOCK_READINGS) this.#closeBlock();
    this.#value = value;
    if (timeMs > this.sinceMs) this.#renewedEveryMs = Math.min(this.#renewedEveryMs, timeMs - this.sinceMs);
    this.sinceMs = timeMs;
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

  /** Exactly the same for so long, s; 0 before the first value. */
  stillForS(timeMs: number): number {
    return !Number.isNaN(this.sinceMs) ? (timeMs - this.sinceMs) / 1000 : 0;
  }

  /** The noise spans more than one of the sensor's steps, so that it never holds still by itself. */
  get neverStill(): boolean {
    return (
      this.#reversals >= REVERSALS_TO_KNOW &&
      this.#typicalReversal >= NOISE_STEPS * this.resolutionK &&
      this.#reversalEveryMs <= REVERSAL_WITHIN_VALUES * this.#renewedEveryMs
    );
  }

  #closeBlock(): void {
    this.#shares[this.#block++ % BLOCKS] = this.#reversalsInBlock / this.#readings;
    this.#wide[(this.#block - 1) % BLOCKS] = this.#wideInBlock / this.#readings;
    this.#readings = 0;
    this.#reversalsInBlock = 0;
    this.#wideInBlock = 0;
  }

  /**
   * Still for so many readings that a sensor which trembled even in the calmest of its last stretches cannot have come to
   * it by chance.
   */
  get isNoChance(): boolean {
    if (this.#block < BLOCKS) return false;
    const calmest = Math.min(...this.#shares);
    if (calmest >= LEAST_TREMBLE && this.#still > this.#swept.noChanceReadings) return true;
    // Reversals of a single step may come from an edge between two steps, where even a calm sensor flickers.
    return calmest >= LEAST_TREMBLE && Math.min(...this.#wide) >= LEAST_WIDE && this.#still * calmest > NO_CHANCE;
  }

  /** How many of its own steps the sensor's noise usually spans. */
  get noiseSteps(): number {
    return this.resolutionK > 0 ? this.#typicalReversal / this.resolutionK : 0;
  }

  /** Usual time between two reversals, s. */
  get reversalEveryS(): number {
    return this.#reversalEveryMs / 1000;
  }

  /** Smallest change seen, K: the sensor's resolution; 0 while unknown. */
  get resolutionK(): number {
    const smallest = Math.min(this.#smallestStep, this.#smallestBefore);
    return Number.isFinite(smallest) ? smallest : 0;
  }

  rearm(): void {
    this.sinceMs = Number.NaN;
    this.#value = Number.NaN;
    this.#lastStep = 0;
    this.#lastReversalMs = Number.NaN;
  }
}
