import {
  GREATEST_HEATING_RATE_K_PER_S,
  greatestHoldingPower,
  LEAST_HEATING_RATE_K_PER_S,
  ROOM_C,
} from './healthy-zone.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** Seconds in the band that make the power there the holding power. */
const SECONDS_TO_KNOW = 45;

/** What this zone itself has shown since the service began to watch it; never wider than what any healthy zone shows. */
export class LearntZone {
  #heldPower = 0;
  #heldTemperatureC = 0;
  #heldS = 0;
  #rateKPerS = 0;
  #rateS = 0;

  /** Call once a second while the zone holds its set-point. */
  learnHolding(trace: ZoneTrace): void {
    if (trace.seconds < 10) return;
    this.#heldS++;
    const share = 1 / Math.min(this.#heldS, 90);
    this.#heldPower += (trace.meanPower(0, 5) - this.#heldPower) * share;
    this.#heldTemperatureC += (trace.meanTemperature(0, 3) - this.#heldTemperatureC) * share;
  }

  /** Call once a second while the zone heats up. */
  learnHeating(trace: ZoneTrace): void {
    const temperatureC = trace.meanTemperature(0, 2);
    const net = trace.leastPowerBehind(0) - this.holdingPower(temperatureC) * 0.8;
    if (!(net > 0.3)) return;
    const rate = (temperatureC - trace.meanTemperature(10, 2)) / 10 / net;
    if (!(rate > 0.1)) return;
    this.#rateS++;
    this.#rateKPerS += (rate - this.#rateKPerS) / Math.min(this.#rateS, 60);
  }

  get knowsHolding(): boolean {
    return this.#heldS >= SECONDS_TO_KNOW;
  }

  /** Power that keeps the zone at a temperature, 0…1; the greatest of a healthy zone where nothing was learnt. */
  holdingPower(temperatureC: number): number {
    if (!this.knowsHolding || this.#heldTemperatureC < ROOM_C + 20) return greatestHoldingPower(temperatureC);
    return Math.max(0, (this.#heldPower * (temperatureC - ROOM_C)) / (this.#heldTemperatureC - ROOM_C));
  }

  /** Least rise to expect for each unit of power beyond the holding power, K/s. */
  leastRateKPerS(): number {
    return this.#rateS >= 20 ? Math.max(LEAST_HEATING_RATE_K_PER_S, 0.5 * this.#rateKPerS) : LEAST_HEATING_RATE_K_PER_S;
  }

  /** Rise for each unit of power as this zone has shown it, K/s; the fastest of a healthy zone where nothing was learnt. */
  typicalRateKPerS(): number {
    return this.#rateS >= 20 ? Math.max(LEAST_HEATING_RATE_K_PER_S, this.#rateKPerS) : GREATEST_HEATING_RATE_K_PER_S;
  }
}
