/**
 * The diameter gauge: one conversion per strand step, with noise. A reading is the mean of all conversions since the last
 * reading. A second axis shows how far out of round the strand is.
 */

import type { Plant } from './plant.ts';
import { Random, Wander } from './random.ts';
import { SLOW_STEP_S, STRAND_STEP_S } from './steps.ts';

/**
 * `frozen`: it repeats its last reading; `slipped-out`: the strand runs next to it; `short-range`: it shows no thicker strand
 * than its range; `wrong-readings`: now and then two readings in a row are far too high.
 */
export type GaugeFault = 'frozen' | 'slipped-out' | 'short-range' | 'wrong-readings';

const SHORT_RANGE_MM = 1.8;
const WRONG_BY_MM = 0.4;
const WRONG_IN_ROW = 2;
const WRONG_EVERY_S = 40;

const OVALITY_CORRELATION_S = 25;

export class Gauge {
  fault: GaugeFault | null = null;
  readonly #plant: Plant;
  readonly #random: Random;
  readonly #disturbances: Random;
  readonly #ovality: Wander;
  readonly #twoAxes: boolean;
  #ovalShare = 0;
  #sumX = 0;
  #sumY = 0;
  #count = 0;
  #slowSum = 0;
  #slowCount = 0;
  #lastX = 0;
  #lastY = 0;
  #wrongInS = 0;
  #wrongLeft = 0;

  constructor(plant: Plant, axes: 1 | 2, seed: number) {
    this.#plant = plant;
    this.#twoAxes = axes === 2;
    this.#random = Random.stream(seed, 'gauge');
    this.#disturbances = Random.stream(seed, 'wrong readings');
    this.#ovality = new Wander(Random.stream(seed, 'ovality'), OVALITY_CORRELATION_S, SLOW_STEP_S);
  }

  /** One conversion of the strand's true diameter; 0 = no strand. */
  step(trueMm: number): void {
    const measuredMm = this.fault === 'slipped-out' ? 0 : trueMm;
    const x = this.#convert(measuredMm * (1 + this.#ovalShare));
    const y = this.#twoAxes ? this.#convert(measuredMm * (1 - this.#ovalShare)) : x;
    this.#sumX += x;
    this.#sumY += y;
    this.#count++;
    this.#slowSum += (x + y) / 2;
    this.#slowCount++;
  }

  /** Mean of the conversions since the last slow step, mm, for the puller's loop. */
  slowStep(): number {
    if (this.#twoAxes) this.#ovalShare = this.#plant.ovalityShare * (1 + 0.5 * this.#ovality.step());
    const mean = this.#slowCount === 0 ? 0 : this.#slowSum / this.#slowCount;
    this.#slowSum = 0;
    this.#slowCount = 0;
    return mean;
  }

  /** Take a reading into `xMm` and `yMm`. */
  read(): void {
    if (this.#count > 0 && this.fault !== 'frozen') {
      const wrongMm = this.fault === 'wrong-readings' ? this.#disturbance() : 0;
      this.#lastX = this.#shown(this.#sumX / this.#count) + wrongMm;
      this.#lastY = this.#shown(this.#sumY / this.#count) + wrongMm;
    }
    this.#sumX = 0;
    this.#sumY = 0;
    this.#count = 0;
  }

  #shown(mm: number): number {
    return this.fault === 'short-range' ? Math.min(mm, SHORT_RANGE_MM) : mm;
  }

  /** What a spark of the motors adds to this reading. */
  #disturbance(): number {
    if (this.#wrongInS <= 0) {
      this.#wrongInS = this.#disturbances.between(0.5, 1.5) * WRONG_EVERY_S;
      this.#wrongLeft = WRONG_IN_ROW;
    }
    this.#wrongInS -= this.#count * STRAND_STEP_S;
    return this.#wrongLeft-- > 0 ? WRONG_BY_MM : 0;
  }

  get xMm(): number {
    return this.#lastX;
  }

  get yMm(): number {
    return this.#lastY;
  }

  get meanMm(): number {
    return (this.#lastX + this.#lastY) / 2;
  }

  #convert(mm: number): number {
    const noise = this.#plant.gaugeNoiseMm * this.#random.gaussian();
    // An empty gauge sees only its own light: hardly any noise, and never below zero.
    return mm > 0 ? mm + noise : Math.abs(noise) / 6;
  }
}
