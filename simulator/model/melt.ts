/**
 * The melt before the die: a small store under pressure. What the screw hands on and the die lets go differ for a moment:
 *
 *   C · dP/dt = Q_in − P / R(T),   R(T) = R₀ · exp(−β (T − T₀))
 *
 * so that fast surging is damped, a hotter die gives a short surplus, and in the long run all that goes in comes out.
 */

import { STRAND_STEP_S } from './steps.ts';

const REFERENCE_C = 195;
const PRESSURE_AT_REFERENCE_BAR = 40;
const FLOW_AT_REFERENCE_MM3_PER_S = 84;
/** Temperature thins the melt, 1/K. */
const THINNING_PER_K = 0.02;
const LAG_S = 0.4;
/** The polymer stops flowing between these two. */
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

  /** One strand step: the flow out of the die, mm³/s, for the flow from the screw. */
  step(flowInMm3PerS: number): number {
    const flowOut = this.pressureBar / this.#resistance;
    this.pressureBar += ((flowInMm3PerS * this.#moltenShare - flowOut) * STRAND_STEP_S) / CAPACITY;
    return flowOut;
  }
}
