import { LONGEST_DEAD_TIME_S, SHORTEST_DEAD_TIME_S } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';

/** Beyond the band that cold stock, a fan or an undershoot may cost, K. */
const BEYOND_BAND_K = 1.5;
/** The same where the power is not known, K. */
const BEYOND_BAND_BLIND_K = 6;
const LEAST_BAND_K = 5;
/** Falling: so much lower than 6 s before, K. */
const FALL_K = 0.3;
/** Power may have been this share below the holding power without explaining a fall. */
const SLACK = 0.35;
/** A heater at this power does not let a zone fall, whatever it is. */
const HIGH_POWER = 0.6;
const RECOVERED_K = 3;

/**
 * Falls away from a set-point that it had held although the power was there, or falls during a heat-up under high power
 * (heater lost, or the sensor slipped out of its hole: then the true temperature RISES). Low power at any moment that
 * could explain the fall, whatever the dead time, excuses it: an undershoot after an overshoot, an on/off controller.
 */
export class FallingAway implements SlowRule {
  #active = false;
  #setpointC = Number.NaN;
  #lowestC = 0;
  #highestC = Number.NEGATIVE_INFINITY;

  judge(zone: ZoneSituation): boolean {
    const temperatureC = zone.trace.meanTemperature(0, 2);
    const depthK = zone.setpointC - temperatureC;
    if (this.#active) return this.#stillAway(zone, temperatureC, depthK);
    this.#highestC = zone.setpointSteadyS < 1 ? temperatureC : Math.max(this.#highestC, temperatureC);
    if (!(zone.setpointC > 0) || zone.trace.seconds < 10) return false;
    const bandK = Math.max(zone.withinC, LEAST_BAND_K);
    const falling = temperatureC < zone.trace.meanTemperature(6, 2) - FALL_K;
    if (!falling || depthK < bandK) return false;
    const away = zone.powerKnown
      ? this.#awayDespitePower(zone, temperatureC, depthK, bandK)
      : zone.held && depthK > bandK + BEYOND_BAND_BLIND_K;
    if (!away) return false;
    this.#active = true;
    this.#setpointC = zone.setpointC;
    this.#lowestC = temperatureC;
    return true;
  }

  #awayDespitePower(zone: ZoneSituation, temperatureC: number, depthK: number, bandK: number): boolean {
    if (zone.trace.seconds < LONGEST_DEAD_TIME_S + 4) return false;
    const least = this.#leastPower(zone);
    if (least >= HIGH_POWER && temperatureC < this.#highestC - LEAST_BAND_K) return true;
    if (!zone.held || !zone.learnt.knowsHolding) return false;
    const hold = zone.learnt.holdingPower(zone.setpointC);
    return depthK > bandK + BEYOND_BAND_K && least >= hold * (1 - SLACK);
  }

  /** Means of 4 s, so that a controller's nerves about noise do not excuse. */
  #leastPower(zone: ZoneSituation): number {
    let least = Number.POSITIVE_INFINITY;
    for (let age = SHORTEST_DEAD_TIME_S; age < LONGEST_DEAD_TIME_S; age += 4)
      least = Math.min(least, zone.trace.meanPower(age, 4));
    return least;
  }

  #stillAway(zone: ZoneSituation, temperatureC: number, depthK: number): boolean {
    this.#lowestC = Math.min(this.#lowestC, temperatureC);
    const back = depthK < zone.withinC || temperatureC > this.#lowestC + RECOVERED_K;
    this.#active = !back && zone.setpointC >= this.#setpointC - 0.5;
    if (!this.#active) this.#highestC = temperatureC;
    return this.#active;
  }

  rearm(): void {
    this.#active = false;
    this.#highestC = Number.NEGATIVE_INFINITY;
  }
}
