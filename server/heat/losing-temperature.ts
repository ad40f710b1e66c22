import { COLD_BELOW_C, GREATEST_LOAD, SHORTEST_DEAD_TIME_S } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { Recovery } from './recovery.ts';

/** A zone closer to its set-point than this is not losing temperature, K. */
const LEAST_BAND_K = 5;
/** The fall is measured over this time, s; longer on slow zones, whose slope drowns in noise. */
const FALL_S = 6;
const SLOW = { rateKPerS: 0.7, fallS: 11 } as const;
const SLOWEST = { rateKPerS: 0.3, fallS: 30 } as const;
/** A smaller fall within that time is noise, K. */
const LEAST_FALL_K = 0.4;
/** Share of the heat from the power that must be missing; with a dead heater, all of it is. */
const MISSING_SHARE = 0.6;
/** Cold stock or a fan may take up to this much heat; beyond it the heater or the sensor is at fault. */
const LEAST_MISSING = GREATEST_LOAD + 0.02;
/** At this much power, and this much more than holding needs, no healthy zone falls this far. */
const HIGH = { power: 0.6, beyondHold: 0.25, fallK: 3, withinS: 20 } as const;
/** The holding power under an on/off controller is too uncertain to recognise missing heat. */
const ON_OFF = { swing: 0.8, withinS: 60 } as const;
/** No zone cools this fast, or heats up: the sensor slipped out of its hole, or is back in it. */
const SLIPPED = { changeK: 10, withinS: 4, hotC: 40 } as const;
/** Share of the fall that must be regained, and at least this many kelvins: a slipped sensor may creep up for minutes. */
const RECOVERED = { share: 0.5, leastK: 3 } as const;
/** After a restart of a hot line the controller starts from scratch and the zone may sag for this long, s. */
const SETTLES_AFTER_HOT_START_S = 240;
/** Where the power is unknown: this far beyond the band, and this long after a restart of a hot line. */
const BLIND = { beyondBandK: 6, afterHotStartS: 300 } as const;

/**
 * The zone loses temperature although it is powered: the heater is lost, or the sensor slipped out of its hole
 * (then the true temperature RISES). The fall is compared with what the power of the last seconds explains, whatever the
 * dead time: missing heat = power − holding power − change / heating rate, in units of full power. Low power explains an
 * undershoot, an on/off controller and a restart; cold stock and a fan take no more than a fifth.
 */
export class LosingTemperature implements SlowRule {
  #active = false;
  #slipped = false;
  #setpointC = Number.NaN;
  #lowestC = 0;
  readonly #recovery = new Recovery();

  check(zone: ZoneSituation): boolean {
    const { trace } = zone;
    const temperatureC = trace.meanTemperature(0, 2);
    const belowK = zone.setpointC - temperatureC;
    const recovery = this.#recovery.follow(zone, this.#active);
    if (this.#active && recovery !== null) {
      this.#active = recovery === 'missing';
      return this.#active;
    }
    if (this.#active) return this.#stillAway(zone, temperatureC, belowK);
    if (!(zone.setpointC > 0) || trace.seconds < FALL_S + 2) return false;
    const bandK = Math.max(zone.withinC, LEAST_BAND_K);
    const fallK = trace.meanTemperature(FALL_S, 2) - temperatureC;
    if (fallK < LEAST_FALL_K || belowK < bandK) return false;
    this.#slipped = changedInK(zone) < -SLIPPED.changeK;
    const away =
      this.#slipped ||
      (zone.powerKnown
        ? this.#heatIsMissing(zone, temperatureC)
        : zone.held && belowK > bandK + BLIND.beyondBandK && zone.hotStartAgoS > BLIND.afterHotStartS);
    if (!away) return false;
    this.#active = true;
    this.#setpointC = zone.setpointC;
    this.#lowestC = temperatureC;
    return true;
  }

  #heatIsMissing(zone: ZoneSituation, temperatureC: number): boolean {
    if (zone.trace.seconds < zone.learnt.lastsS + 8) return false;
    const least = leastPower(zone);
    const hold = zone.learnt.holdingPower(temperatureC);
    const longFallK = zone.trace.meanTemperature(HIGH.withinS, 2) - temperatureC;
    if (least >= Math.max(HIGH.power, hold + HIGH.beyondHold) && longFallK > HIGH.fallK) return true;
    if (!zone.held || !zone.learnt.isHoldingKnown || zone.hotStartAgoS < SETTLES_AFTER_HOT_START_S) return false;
    if (zone.trace.greatestPower(ON_OFF.withinS) - zone.trace.smallestPower(ON_OFF.withinS) > ON_OFF.swing)
      return false;
    const rate = zone.learnt.typicalRateKPerS();
    const fallS = rate > SLOW.rateKPerS ? FALL_S : rate > SLOWEST.rateKPerS ? SLOW.fallS : SLOWEST.fallS;
    const slopeKPerS = (zone.trace.meanTemperature(fallS, 2) - temperatureC) / fallS;
    const missing = least - hold + slopeKPerS / rate;
    return missing > Math.max(LEAST_MISSING, MISSING_SHARE * least);
  }

  #stillAway(zone: ZoneSituation, temperatureC: number, belowK: number): boolean {
    if (this.#slipped) {
      // Beside its hole it warms as well, even to the set-point: its zone is hotter then.
      const isOff = zone.setpointC === 0 && temperatureC < COLD_BELOW_C;
      this.#active = !isOff && changedInK(zone) < SLIPPED.changeK;
      return this.#active;
    }
    this.#lowestC = Math.min(this.#lowestC, temperatureC);
    const regainedK = Math.max(RECOVERED.leastK, RECOVERED.share * (zone.setpointC - this.#lowestC));
    const back = belowK < zone.withinC || temperatureC > this.#lowestC + regainedK;
    this.#active = !back && zone.setpointC >= this.#setpointC - 0.5;
    return this.#active;
  }

  reset(): void {
    this.#recovery.reset();
    this.#active = false;
  }
}

/** Change of a hot reading over the time that a sensor takes to slip out, K; 0 = it is not hot. */
function changedInK({ trace }: ZoneSituation): number {
  const beforeC = trace.meanTemperature(SLIPPED.withinS, 1);
  const nowC = trace.meanTemperature(0, 1);
  return Math.max(beforeC, nowC) > SLIPPED.hotC ? nowC - beforeC : 0;
}

/** Least power that the fall can be a response to; means of 4 s, so that a controller's response to noise does not excuse it. */
function leastPower({ trace, learnt }: ZoneSituation): number {
  let least = Number.POSITIVE_INFINITY;
  for (let age = SHORTEST_DEAD_TIME_S; age < learnt.lastsS + FALL_S / 2; age += 4)
    least = Math.min(least, trace.meanPower(age, 4));
  return least;
}
