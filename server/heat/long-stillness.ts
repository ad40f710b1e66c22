import type { ThermalModel } from './thermal-model.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** The power of so many first seconds of a stillness is the one that balances the zone. */
const BALANCED_S = 60;
const DOUBT_K = 2;

/**
 * A reading that stands still for minutes: how far the power that can show by now, against the power of its first minute, would have
 * brought a zone. That first minute was balanced to within one step of the sensor.
 */
export class LongStillness {
  #sinceMs = Number.NaN;
  #seconds = 0;
  #balancedPower = 0;
  #wayK = 0;

  /** Once a second; true = it must have moved by now. */
  mustHaveMoved(trace: ZoneTrace, model: ThermalModel): boolean {
    const { sinceMs, resolutionK } = trace.stillness;
    if (sinceMs !== this.#sinceMs) {
      this.#sinceMs = sinceMs;
      this.#seconds = 0;
      this.#balancedPower = 0;
      this.#wayK = 0;
    }
    // What the power did just now cannot show yet.
    const delayS = Math.round(model.deadTimeS + model.lagS + model.secondLagS + model.delayOffS);
    if (trace.seconds <= delayS) return false;
    const power = trace.powerAt(delayS);
    this.#seconds++;
    if (this.#seconds <= BALANCED_S) {
      this.#balancedPower += (power - this.#balancedPower) / this.#seconds;
      return false;
    }
    this.#wayK += model.rateKPerS * (power - this.#balancedPower);
    return Math.abs(this.#wayK) > DOUBT_K + resolutionK * (1.5 + this.#seconds / BALANCED_S);
  }
}
