/**
 * The puller draws the strand down: at constant flow the diameter is proportional to v^−½. Its loop reads the gauge, which
 * measures the strand a transport delay after the die, so it corrects slowly. A roller that is out of true changes the speed
 * once per turn, which is periodic in length.
 */

import type { Plant } from './plant.ts';
import { SLOW_STEP_S, STRAND_STEP_S } from './steps.ts';

/** `hand`: a fixed speed; `loop`: the speed follows the gauge. */
export type PullerMode = 'off' | 'hand' | 'loop';

const SPEED_LAG_S = 0.5;
const FILTER_S = 2;
/** Integral time of the loop: about four times the transport delay, so that it does not oscillate. */
const INTEGRAL_TIME_S = 70;
const PROPORTIONAL = 0.15;
/** Limits the effect of a blob on the speed. */
const ERROR_SHARE_MAX = 0.04;
const CORRECTION_MIN = 0.6;
const CORRECTION_MAX = 1.6;
/** Below this the gauge counts as empty, and the loop keeps its speed. */
const EMPTY_BELOW_MM = 0.8;

export class Puller {
  mode: PullerMode = 'off';
  /** Set speed before the loop's correction. */
  baseMmPerS = 0;
  /** Length by the roller's encoder: turns times nominal circumference. */
  rollerMm = 0;
  /** Length by the counter's own wheel, and the share of the strand that slips through under it. */
  countedMm = 0;
  counterSlip = 0;
  /** Speed by the roller's encoder, mm/s. */
  rollerMmPerS = 0;
  readonly #plant: Plant;
  #filteredMm: number;
  #integral = 0;

  constructor(plant: Plant) {
    this.#plant = plant;
    this.#filteredMm = plant.nominalMm;
  }

  set(mode: PullerMode, baseMmPerS: number): void {
    if (mode !== 'loop') this.#integral = 0;
    if (mode === 'loop' && this.mode !== 'loop') this.#filteredMm = this.#plant.nominalMm;
    this.mode = mode;
    this.baseMmPerS = mode === 'off' ? 0 : baseMmPerS;
  }

  /** @param gaugeMm the gauge's mean over the slow step */
  slowStep(gaugeMm: number): void {
    let correction = 1;
    if (this.mode === 'loop') {
      if (gaugeMm >= EMPTY_BELOW_MM) {
        this.#filteredMm += ((gaugeMm - this.#filteredMm) * SLOW_STEP_S) / FILTER_S;
        const error = clamp(this.#filteredMm / this.#plant.nominalMm - 1, -ERROR_SHARE_MAX, ERROR_SHARE_MAX);
        this.#integral = clamp(
          this.#integral + (2 * error * SLOW_STEP_S) / INTEGRAL_TIME_S,
          CORRECTION_MIN - 1,
          CORRECTION_MAX - 1,
        );
        correction = 1 + this.#integral + PROPORTIONAL * error;
      } else {
        correction = 1 + this.#integral;
      }
    }
    const targetMmPerS = this.baseMmPerS * correction;
    this.rollerMmPerS += ((targetMmPerS - this.rollerMmPerS) * SLOW_STEP_S) / SPEED_LAG_S;
    if (targetMmPerS === 0 && this.rollerMmPerS < 0.1) this.rollerMmPerS = 0;
  }

  /** One strand step. @returns the true speed of the strand, mm/s */
  step(): number {
    this.rollerMm += this.rollerMmPerS * STRAND_STEP_S;
    this.countedMm += this.rollerMmPerS * STRAND_STEP_S * (1 - this.counterSlip);
    const turn = this.rollerMm / this.#plant.rollerCircumferenceMm;
    return this.rollerMmPerS * (1 + this.#plant.runOutShare * Math.sin(2 * Math.PI * turn));
  }
}

function clamp(value: number, low: number, high: number): number {
  return Math.min(high, Math.max(low, value));
}
