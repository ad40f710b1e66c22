/**
 * The extruder's temperature controller of one zone: PI with anti-windup by conditional integration (textbook method, from
 * memory), so that the integral does not grow while the output is at its limit. It is part of the simulated line.
 */

import { SLOW_STEP_S } from './steps.ts';

const GAIN_PER_K = 0.03;
const INTEGRAL_TIME_S = 140;

export class HeatController {
  /** 0 = off. */
  setPointC = 0;
  #integral = 0;

  /** @param steady output at the start, 0…1 */
  constructor(steady: number) {
    this.#integral = steady;
  }

  /**
   * One slow step.
   * @param sensorFaulty true = the heater is switched off; the controller starts again when the sensor has recovered
   * @returns the output for this reading, as a share of full power, 0…1
   */
  step(readingC: number, sensorFaulty: boolean): number {
    if (this.setPointC <= 0 || sensorFaulty) {
      this.#integral = 0;
      return 0;
    }
    const errorK = this.setPointC - readingC;
    const output = GAIN_PER_K * errorK + this.#integral;
    const pushesIntoLimit = (output > 1 && errorK > 0) || (output < 0 && errorK < 0);
    if (!pushesIntoLimit) this.#integral += ((GAIN_PER_K * errorK) / INTEGRAL_TIME_S) * SLOW_STEP_S;
    return Math.min(1, Math.max(0, output));
  }
}
