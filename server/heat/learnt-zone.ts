import {
  GREATEST_HEATING_RATE_K_PER_S,
  greatestHoldingPower,
  HEATS_WITH,
  LONGEST_DEAD_TIME_S,
  ROOM_C,
} from './healthy-zone.ts';
import type { TraceView } from './zone-trace.ts';

/** Time in the band after which the holding power counts as known, s. */
const SECONDS_TO_KNOW = 45;

/** Time of heating after which the rate counts as known, s. */
const RATE_KNOWN_S = 20;
/** A smaller rise may be noise, K/s. */
const LEAST_SLOPE_K_PER_S = 0.03;
/** The steepest rise is looked for over this time, s. */
const STEEPEST_OVER_S = 20;
/** A rise that has not become steeper by this factor for so long has set in, s. */
const STEEPENS = 1.05;
const SET_IN_S = 20;
/** A rise below this share of the usual one breaks off. */
const BREAKS_OFF_SHARE = 0.4;
/** A zone whose rise sets in later than this is slow, s; its response lasts for longer than its delay by this factor. */
const SLOW = { delayS: 30, lasts: 1.5, longestS: 150 } as const;

/** How a zone has responded to its power since the watch started. */
export interface ZoneResponse {
  /** Usual rise per unit of power, K/s. */
  readonly rateKPerS: number;
  /** A reading can be a response to the power of this long ago, s. */
  readonly lastsS: number;
}

/** Holding power and heating rate of one zone since the watch started, within the bounds of any healthy zone. */
export class LearntZone {
  #heldPower = 0;
  #heldTemperatureC = 0;
  #heldS = 0;
  #rateKPerS = 0;
  #rateS = 0;
  /** Of the current heat-up: its time, where it started, the steepest rise so far, and by how much that lags behind the power. */
  #heatS = 0;
  #fromC = Number.NaN;
  #steepestKPerS = 0;
  #delayS = 0;
  /** The rise has set in once it has not steepened for a while. */
  #steepenedToKPerS = 0;
  #steepenedAgoS = 0;
  #hasSetIn = false;

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
    this.#followRise(trace, temperatureC);
    const net = trace.leastPowerBehind(0, this.lastsS) - this.holdingPower(temperatureC) * 0.8;
    if (!(net > HEATS_WITH)) return;
    const rate = (temperatureC - trace.meanTemperature(10, 2)) / 10 / net;
    // A rise that breaks off is a fault to be found, nothing to learn from.
    const leastKPerS = this.response === null ? LEAST_SLOPE_K_PER_S : BREAKS_OFF_SHARE * this.#rateKPerS;
    if (!(rate > leastKPerS)) return;
    this.#rateS++;
    this.#rateKPerS += (rate - this.#rateKPerS) / Math.min(this.#rateS, 60);
  }

  /** Where the steepest tangent meets the temperature at the start is how much the rise lags behind the power. */
  #followRise(trace: TraceView, temperatureC: number): void {
    if (!(trace.powerAt(0) > HEATS_WITH) || trace.seconds < 2) {
      this.#heatS = 0;
      return;
    }
    if (this.#heatS === 0) {
      this.#fromC = temperatureC;
      this.#steepestKPerS = 0;
      this.#steepenedToKPerS = 0;
    }
    this.#heatS++;
    if (this.#heatS < STEEPEST_OVER_S || trace.seconds < STEEPEST_OVER_S + 2) return;
    const slope = (temperatureC - trace.meanTemperature(STEEPEST_OVER_S, 2)) / STEEPEST_OVER_S;
    if (slope > Math.max(LEAST_SLOPE_K_PER_S, STEEPENS * this.#steepenedToKPerS)) {
      this.#steepenedToKPerS = slope;
      this.#steepenedAgoS = 0;
    } else if (++this.#steepenedAgoS >= SET_IN_S && this.#steepenedToKPerS > 0) this.#hasSetIn = true;
    if (!(slope > Math.max(LEAST_SLOPE_K_PER_S, this.#steepestKPerS))) return;
    this.#steepestKPerS = slope;
    this.#delayS = Math.max(0, this.#heatS - (temperatureC - this.#fromC) / slope);
  }

  /** null = it has not risen long enough yet. */
  get response(): ZoneResponse | null {
    if (this.#rateS < RATE_KNOWN_S) return null;
    const lastsS = this.#delayS > SLOW.delayS ? Math.min(SLOW.longestS, SLOW.lasts * this.#delayS) : 0;
    return { rateKPerS: this.#rateKPerS, lastsS: Math.max(LONGEST_DEAD_TIME_S, Math.round(lastsS)) };
  }

  /** The rise has been as steep as it gets. */
  get hasSetIn(): boolean {
    return this.#hasSetIn;
  }

  /** The steepest rise of this heat-up, K/s: at least this much the zone can do at full power. */
  get steepestKPerS(): number {
    return this.#steepestKPerS;
  }

  /** How long a reading can be a response to the power, s. */
  get lastsS(): number {
    return this.response?.lastsS ?? LONGEST_DEAD_TIME_S;
  }

  get isHoldingKnown(): boolean {
    return this.#heldS >= SECONDS_TO_KNOW;
  }

  /** Power that holds the zone at a temperature, 0…1; the greatest of any healthy zone while it is unknown. */
  holdingPower(temperatureC: number): number {
    if (!this.isHoldingKnown || this.#heldTemperatureC < ROOM_C + 20) return greatestHoldingPower(temperatureC);
    return Math.max(0, (this.#heldPower * (temperatureC - ROOM_C)) / (this.#heldTemperatureC - ROOM_C));
  }

  /** Usual rise per unit of power, K/s; the fastest of any healthy zone while it is unknown. */
  typicalRateKPerS(): number {
    return this.response?.rateKPerS ?? GREATEST_HEATING_RATE_K_PER_S;
  }
}
