import { NO_POWER } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';

/** The room, the sun and melt from the previous zone may warm a zone this fast, K/s. */
const DRIFT_K_PER_S = 0.02;
/**
 * K/s for each kelvin by which a neighbour is hotter: λA/(l·C) of two zones of 60 mm on a brass barrel of 30/16 mm, with
 * λ = 110 W/(m·K) and bands of 70 J/K (handbook values, from memory). It is less in steel and in longer zones.
 */
const NEIGHBOUR_RATE_PER_S = 1 / 200;
const RISE_K = 1.6;
/** Least excess over the set-point, K. */
const ABOVE_SETPOINT_K = 2;
const COOLED_K = 3;

/** Where the power is unknown: beyond any overshoot, or a rise long after the set-point was turned off. */
const BLIND = { beyondBandK: 8, excusedS: 60, riseK: 6 } as const;

/**
 * The zone rises at power 0 by more than its neighbours and an overshoot explain: the switch is stuck on. The floor is the
 * lowest temperature since the power went off, raised by the heat that neighbours may have supplied.
 */
export class RisingWithoutPower implements SlowRule {
  #offS = 0;
  #floorC = Number.POSITIVE_INFINITY;
  #peakC = Number.NEGATIVE_INFINITY;
  #active = false;

  check(zone: ZoneSituation): boolean {
    const temperatureC = zone.trace.meanTemperature(0, 3);
    if (this.#active) return this.#stillHot(zone, temperatureC);
    if (zone.trace.seconds < 5) return false;
    const unpowered = zone.powerKnown
      ? zone.trace.greatestPower(1) <= NO_POWER
      : this.#shouldNotHeat(zone, temperatureC);
    if (!unpowered) {
      this.#offS = 0;
      return false;
    }
    this.#offS++;
    // After the power went off, heat stored in the heater and the sensor's lag explain a rise for a while.
    const { lastsS } = zone.learnt;
    if (this.#offS <= (zone.powerKnown ? lastsS + 1 : BLIND.excusedS)) {
      this.#floorC = temperatureC;
      if (zone.powerKnown || !zone.held) return false;
    }
    const warmedKPerS = DRIFT_K_PER_S + NEIGHBOUR_RATE_PER_S * zone.neighboursHotterK;
    this.#floorC = Math.min(this.#floorC + warmedKPerS, temperatureC);
    const aboveK = zone.setpointC > 0 ? temperatureC - zone.setpointC : Number.POSITIVE_INFINITY;
    const seen = zone.powerKnown
      ? temperatureC - this.#floorC > RISE_K && aboveK > ABOVE_SETPOINT_K
      : this.#seenBlind(zone, temperatureC, aboveK);
    if (!seen) return false;
    this.#active = true;
    this.#peakC = temperatureC;
    return true;
  }

  /** Above its set-point, or switched off, a controller does not heat. */
  #shouldNotHeat(zone: ZoneSituation, temperatureC: number): boolean {
    return zone.setpointC === 0 || temperatureC > zone.setpointC + ABOVE_SETPOINT_K;
  }

  #seenBlind(zone: ZoneSituation, temperatureC: number, aboveK: number): boolean {
    if (temperatureC - this.#floorC > BLIND.riseK) return true;
    return (
      zone.held &&
      Number.isFinite(aboveK) &&
      aboveK > zone.withinC + BLIND.beyondBandK &&
      temperatureC > zone.trace.meanTemperature(6, 3) + 0.3
    );
  }

  /** With a stuck switch the temperature may level out; only a fall ends the fault. */
  #stillHot(zone: ZoneSituation, temperatureC: number): boolean {
    this.#peakC = Math.max(this.#peakC, temperatureC);
    const powered = zone.powerKnown && zone.trace.meanPower(0, 10) > 0.05;
    const inBand = zone.setpointC > 0 && temperatureC < zone.setpointC + zone.withinC / 2;
    this.#active = !powered && !inBand && temperatureC > this.#peakC - COOLED_K;
    if (!this.#active) this.#offS = 0;
    return this.#active;
  }

  reset(): void {
    this.#offS = 0;
    this.#floorC = Number.POSITIVE_INFINITY;
    this.#active = false;
  }
}
