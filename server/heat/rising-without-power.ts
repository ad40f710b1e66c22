import { LONGEST_DEAD_TIME_S, NEIGHBOUR_RATE_PER_S } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';

/** Power up to this is none. */
const NO_POWER = 0.02;
/** After the power went to nothing, dead time and the lag of the sensor explain a rise for so long, s. */
const EXCUSED_S = LONGEST_DEAD_TIME_S + 1;
/** The room, the sun and the melt that comes from the zone before may warm a zone so fast, K/s. */
const DRIFT_K_PER_S = 0.02;
const RISE_K = 1.6;
/** Above the set-point by this before it concerns anybody, K. */
const ABOVE_SETPOINT_K = 2;
const COOLED_K = 3;

/** Where the power is not known: beyond any overshoot, K above the set-point that it had held, or after it was turned off. */
const BLIND = { beyondBandK: 8, excusedS: 60, riseK: 6 } as const;

/**
 * Rises at power 0 by more than its neighbours and the end of an overshoot explain: a switch that is stuck on. The floor
 * is the lowest temperature since the power went, lifted by what the neighbours may have brought.
 */
export class RisingWithoutPower implements SlowRule {
  #offS = 0;
  #floorC = Number.POSITIVE_INFINITY;
  #peakC = Number.NEGATIVE_INFINITY;
  #active = false;

  judge(zone: ZoneSituation): boolean {
    const temperatureC = zone.trace.meanTemperature(0, 3);
    if (this.#active) return this.#stillHot(zone, temperatureC);
    if (zone.trace.seconds < 5) return false;
    const silent = zone.powerKnown ? zone.trace.greatestPower(1) <= NO_POWER : this.#shouldNotHeat(zone, temperatureC);
    if (!silent) {
      this.#offS = 0;
      return false;
    }
    this.#offS++;
    if (this.#offS <= (zone.powerKnown ? EXCUSED_S : BLIND.excusedS)) {
      this.#floorC = temperatureC;
      if (zone.powerKnown || !zone.held) return false;
    }
    this.#floorC = Math.min(this.#floorC + DRIFT_K_PER_S + NEIGHBOUR_RATE_PER_S * zone.neighboursHotterK, temperatureC);
    const aboveK = zone.setpointC > 0 ? temperatureC - zone.setpointC : Number.POSITIVE_INFINITY;
    const seen = zone.powerKnown
      ? temperatureC - this.#floorC > RISE_K && aboveK > ABOVE_SETPOINT_K
      : this.#seenBlind(zone, temperatureC, aboveK);
    if (!seen) return false;
    this.#active = true;
    this.#peakC = temperatureC;
    return true;
  }

  /** A controller that is above its set-point, or off, has no reason to heat. */
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

  /** A switch that is stuck does not end by the temperature levelling out, only by its falling. */
  #stillHot(zone: ZoneSituation, temperatureC: number): boolean {
    this.#peakC = Math.max(this.#peakC, temperatureC);
    const powered = zone.powerKnown && zone.trace.meanPower(0, 10) > 0.05;
    const inBand = zone.setpointC > 0 && temperatureC < zone.setpointC + zone.withinC / 2;
    this.#active = !powered && !inBand && temperatureC > this.#peakC - COOLED_K;
    if (!this.#active) this.#offS = 0;
    return this.#active;
  }

  rearm(): void {
    this.#offS = 0;
    this.#floorC = Number.POSITIVE_INFINITY;
    this.#active = false;
  }
}
