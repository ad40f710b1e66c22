/**
 * The melt before the die stores a small volume under pressure, so that inflow and outflow differ for a moment:
 *
 *   C · dP/dt = Q_in − P / R(T),   R(T) = R₀ · exp(−β (T − T₀))
 *
 * This damps fast surging, and a hotter die causes a short surplus. In the long run outflow equals inflow.
 */

import { STRAND_STEP_S } from './steps.ts';

const REFERENCE_C = 195;
const PRESSURE_AT_REFERENCE_BAR = 40;
const FLOW_AT_REFERENCE_MM3_PER_S = 84;
/** How much heat thins the melt, 1/K. */
const THINNING_PER_K = 0.02;
const LAG_S = 0.4;
/** Between these temperatures the polymer starts to flow. */
const SOLID_BELOW_C = 130;
const MOLTEN_ABOVE_C = 155;

const RESISTANCE = PRESSURE_AT_REFERENCE_BAR / FLOW_AT_REFERENCE_MM3_PER_S;
const CAPACITY = LAG_S / RESISTANCE;

export class Melt {
  pressureBar = 0;
  #resistance = RESISTANCE;
  #moltenShare = 1;

  slowStep(meltC: number, coldestC: number): void {
    this.#resistance = RESISTANCE * Math.exp(-THINNING_PER_K * Math.max(meltC - REFERENCE_C, -60));
    this.#moltenShare = Math.min(1, Math.max(0, (coldestC - SOLID_BELOW_C) / (MOLTEN_ABOVE_C - SOLID_BELOW_C)));
  }

  /** One strand step. @returns the flow out of the die, mm³/s */
  step(flowInMm3PerS: number): number {
    const flowOut = this.pressureBar / this.#resistance;
    this.pressureBar += ((flowInMm3PerS * this.#moltenShare - flowOut) * STRAND_STEP_S) / CAPACITY;
    return flowOut;
  }
}
