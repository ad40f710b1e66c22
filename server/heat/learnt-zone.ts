import {
  GREATEST_HEATING_RATE_K_PER_S,
  greatestHoldingPower,
  LEAST_HEATING_RATE_K_PER_S,
  ROOM_C,
} from './healthy-zone.ts';
import type { TraceView } from './zone-trace.ts';

/** Time in the band after which the holding power counts as known, s. */
const SECONDS_TO_KNOW = 45;

/** Holding power and heating rate of one zone since the watch started, within the bounds of any healthy zone. */
export class LearntZone {
  #heldPower = 0;
  #heldTemperatureC = 0;
  #heldS = 0;
  #rateKPerS = 0;
  #rateS = 0;

  /** Call once a second while the zone holds its set-point. */
  learnHolding(trace: TraceView): void {
    if (trace.seconds < 10) return;
    this.#heldS++;
    const share = 1 / Math.min(this.#heldS, 90);
    this.#heldPower += (trace.meanPower(0, 5) - this.#heldPower) * share;
    this.#heldTemperatureC += (trace.meanTemperature(0, 3) - this.#heldTemperatureC) * share;
  }

  /** Call once a second while the zone heats up. */
  learnHeating(trace: TraceView): void {
    const temperatureC = trace.meanTemperature(0, 2);
    const net = trace.leastPowerBehind(0) - this.holdingPower(temperatureC) * 0.8;
    if (!(net > 0.3)) return;
    const rate = (temperatureC - trace.meanTemperature(10, 2)) / 10 / net;
    if (!(rate > 0.1)) return;
    this.#rateS++;
    this.#rateKPerS += (rate - this.#rateKPerS) / Math.min(this.#rateS, 60);
  }

  get isHoldingKnown(): boolean {
    return this.#heldS >= SECONDS_TO_KNOW;
  }

  /** Power that holds the zone at a temperature, 0…1; the greatest of any healthy zone while it is unknown. */
  holdingPower(temperatureC: number): number {
    if (!this.isHoldingKnown || this.#heldTemperatureC < ROOM_C + 20) return greatestHoldingPower(temperatureC);
    return Math.max(0, (this.#heldPower * (temperatureC - ROOM_C)) / (this.#heldTemperatureC - ROOM_C));
  }

  /** Least rise to expect per unit of power beyond the holding power, K/s. */
  leastRateKPerS(): number {
    return this.#rateS >= 20 ? Math.max(LEAST_HEATING_RATE_K_PER_S, 0.5 * this.#rateKPerS) : LEAST_HEATING_RATE_K_PER_S;
  }

  /** Usual rise per unit of power, K/s; the fastest of any healthy zone while it is unknown. */
  typicalRateKPerS(): number {
    return this.#rateS >= 20 ? Math.max(LEAST_HEATING_RATE_K_PER_S, this.#rateKPerS) : GREATEST_HEATING_RATE_K_PER_S;
  }
}
