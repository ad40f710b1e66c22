import { EXCHANGE_OFF_PER_S } from './heat-balance.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { TraceView } from './zone-trace.ts';

/** The mean power of this first part of a still stretch is taken as the one that balances the zone, s. */
const BALANCED_S = 60;
const DOUBT_K = 2;

/**
 * For a reading that stays the same for minutes: how far the zone must have moved since, because power and neighbours differ
 * from those of the first minute. During that minute they were in balance, to within one step of the sensor.
 */
export class LongStillness {
  #sinceMs = Number.NaN;
  #seconds = 0;
  #balancedPower = 0;
  #balancedNeighboursK = 0;
  #driftK = 0;
  #doubtK = 0;

  /** Call once a second; true = the reading must have moved by now. */
  mustHaveMoved(trace: TraceView, model: ThermalModel): boolean {
    const { sinceMs, resolutionK } = trace.stillness;
    if (sinceMs !== this.#sinceMs) {
      this.#sinceMs = sinceMs;
      this.#seconds = 0;
      this.#balancedPower = 0;
      this.#balancedNeighboursK = 0;
      this.#driftK = 0;
      this.#doubtK = 0;
    }
    // A recent change of power cannot show yet.
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
    this.#driftK += model.rateKPerS * (power - this.#balancedPower) + model.exchangePerS * hotterK;
    this.#doubtK += model.rateKPerS * trace.powerStep + EXCHANGE_OFF_PER_S * Math.abs(hotterK);
    return Math.abs(this.#driftK) > DOUBT_K + this.#doubtK + resolutionK * (1.5 + this.#seconds / BALANCED_S);
  }
}
