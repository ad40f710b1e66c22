import { EXCHANGE_OFF_PER_S } from './heat-balance.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** The power of so many first seconds of a stillness is the one that balances the zone. */
const BALANCED_S = 60;
const DOUBT_K = 2;

/**
 * A reading that stands still for minutes: how far the power that can show by now, against the power of its first minute, would have
 * brought a zone, and its neighbours with it. That first minute was balanced to within one step of the sensor.
 */
export class LongStillness {
  #sinceMs = Number.NaN;
  #seconds = 0;
  #balancedPower = 0;
  #balancedNeighboursK = 0;
  #wayK = 0;
  #doubtK = 0;

  /** Once a second; true = it must have moved by now. */
  mustHaveMoved(trace: ZoneTrace, model: ThermalModel): boolean {
    const { sinceMs, resolutionK } = trace.stillness;
    if (sinceMs !== this.#sinceMs) {
      this.#sinceMs = sinceMs;
      this.#seconds = 0;
      this.#balancedPower = 0;
      this.#balancedNeighboursK = 0;
      this.#wayK = 0;
      this.#doubtK = 0;
    }
    // What the power did just now cannot show yet.
    const delayS = Math.round(model.deadTimeS + model.lagS + model.secondLagS + model.delayOffS);
    if (trace.seconds <= delayS) return false;
    const power = trace.powerAt(delayS);
    const neighboursK = trace.meanNeighbours(0, 1);
    this.#seconds++;
    if (this.#seconds <= BALANCED_S) {
      this.#balancedPower += (power - this.#balancedPower) / this.#seconds;
      this.#balancedNeighboursK += (neighboursK - this.#balancedNeighboursK) / this.#seconds;
      return false;
    }
    const hotterK = neighboursK - this.#balancedNeighboursK;
    this.#wayK += model.rateKPerS * (power - this.#balancedPower) + model.exchangePerS * hotterK;
    this.#doubtK += model.rateKPerS * trace.powerStep + EXCHANGE_OFF_PER_S * Math.abs(hotterK);
    return Math.abs(this.#wayK) > DOUBT_K + this.#doubtK + resolutionK * (1.5 + this.#seconds / BALANCED_S);
  }
}
