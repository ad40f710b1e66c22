/**
 * The extruder's own temperature controller of one zone: PI with anti-windup by conditional integration (textbook method,
 * from memory): while the output is at a limit, the integral does not grow further into it. It belongs to the simulated
 * line; nothing outside drives it.
 */

import { SLOW_STEP_S } from './steps.ts';

const GAIN_PER_K = 0.03;
const INTEGRAL_TIME_S = 140;

export class HeatController {
  /** 0 = off. */
  setPointC = 0;
  #integral = 0;

  /** @param steady the output to start from, 0…1 */
  constructor(steady: number) {
    this.#integral = steady;
  }

  /**
   * One slow step: the share of full power wanted for this reading, 0…1.
   *
   * @param sensorFaulty a controller that sees its sensor fail switches the heater off, and starts anew when it returns
   */
  step(readingC: number, sensorFaulty: boolean): number {
    if (this.setPointC <= 0 || sensorFaulty) {
      this.#integral = 0;
      return 0;
    }
    const errorK = this.setPointC - readingC;
    const wanted = GAIN_PER_K * errorK + this.#integral;
    const pushesIntoLimit = (wanted > 1 && errorK > 0) || (wanted < 0 && errorK < 0);
    if (!pushesIntoLimit) this.#integral += ((GAIN_PER_K * errorK) / INTEGRAL_TIME_S) * SLOW_STEP_S;
    return Math.min(1, Math.max(0, wanted));
  }
}
