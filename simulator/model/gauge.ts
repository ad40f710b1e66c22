/**
 * The diameter gauge: one conversion per strand step, with noise. A reading is the mean of all conversions since the last
 * reading. A second axis shows how far out of round the strand is.
 */

import type { Plant } from './plant.ts';
import { Random, Wander } from './random.ts';
import { SLOW_STEP_S } from './steps.ts';

/** `frozen`: it repeats its last reading; `slipped-out`: the strand runs next to it. */
export type GaugeFault = 'frozen' | 'slipped-out';

const OVALITY_CORRELATION_S = 25;

export class Gauge {
  fault: GaugeFault | null = null;
  readonly #plant: Plant;
  readonly #random: Random;
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

  constructor(plant: Plant, axes: 1 | 2, seed: number) {
    this.#plant = plant;
    this.#twoAxes = axes === 2;
    this.#random = Random.stream(seed, 'gauge');
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
      this.#lastX = this.#sumX / this.#count;
      this.#lastY = this.#sumY / this.#count;
    }
    this.#sumX = 0;
    this.#sumY = 0;
    this.#count = 0;
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
