import { mayTurnOutFrozen } from './frozen.ts';
import {
  GREATEST_HEATING_RATE_K_PER_S,
  greatestHoldingPower,
  greatestLoad,
  LEAST_HEATING_RATE_K_PER_S,
  LONGEST_DEAD_TIME_S,
  NEIGHBOUR_RATE_OF_SLOW_PER_S,
  NEIGHBOUR_RATE_PER_S,
} from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { LaggedPower } from './lagged-power.ts';
import type { ZoneResponse } from './learnt-zone.ts';
import { Recovery } from './recovery.ts';
import { isSlowerThanSlowest, riseBreaksOff, steadyPowerS } from './steady-rise.ts';

/** Windows in which a rise is looked for, s. */
const WINDOWS_S = [6, 8, 10, 13, 17, 25, 45] as const;
/** A smaller expected rise would drown in the sensor's noise, K. */
const LEAST_EXPECTED_K = 1.9;
/** A rise below this share of the least that a healthy zone makes counts as none. */
const SHARE = 0.4;
/** Share of the zone’s usual rate, and of the slowest rate of other zones, that a zone must reach. */
const OWN_SHARE = 0.5;
const OTHERS_SHARE = 0.5;
/** Consecutive seconds for which the condition must hold. */
const STRIKES = 2;
/** The fault ends after a rise by this share of the distance to the set-point, and at least this many kelvins. */
const RECOVERED = { share: 1 / 3, leastK: 3 } as const;

/**
 * Where the power is unknown, so is when the heater was switched on: wait longer, and look only far from the set-point, since
 * close to it a weak controller may creep. After a restart of a hot line the zone may sag for minutes.
 */
const BLIND = {
  deadS: 25,
  windowS: 45,
  far: { belowSetpointK: 60, leastRiseK: 4 },
  near: { belowSetpointK: 15, leastRiseK: 1 },
  afterHotStartS: 300,
} as const;
/** A zone whose power is unknown has recovered once it rises about as fast as it did before; over this time, s. A smaller rise is noise. */
const AS_FAST = { share: 0.75, overS: 20, leastKPerS: 0.05 } as const;

/**
 * Power is on but the zone does not rise as it should. Under steady power its rise is compared with its own earlier rise and with
 * the slowest healthy zone. Under any power, the rise in a window is compared with the least that this zone, or the others of the
 * line, make from the power that it can have been responding to (whatever its dead time), less what it needs to hold its temperature.
 */
export class NoRise implements SlowRule {
  #strikes = 0;
  #active = false;
  #lowestC = 0;
  #wantedS = 0;
  readonly #lagged = new LaggedPower();
  readonly #recovery = new Recovery();
  /** The steepest rise of a zone whose power is unknown, K/s, for all the power that is not needed to hold its temperature. */
  #steepestKPerS = 0;

  check(zone: ZoneSituation, timeMs: number): boolean {
    const temperatureC = zone.trace.meanTemperature(0, 3);
    const recovery = this.#recovery.follow(zone, this.#active);
    if (this.#active && recovery !== null) {
      this.#active = recovery === 'missing';
      return this.#active;
    }
    if (this.#active) {
      this.#lowestC = Math.min(this.#lowestC, temperatureC);
      this.#active = !this.#hasRecovered(zone, temperatureC);
      return this.#active;
    }
    if (!zone.powerKnown) this.#followRise(zone);
    const seen = zone.powerKnown ? this.#noResponse(zone, temperatureC) : this.#noResponseBlind(zone, temperatureC);
    this.#strikes = seen && !mayTurnOutFrozen(zone.trace, timeMs) ? this.#strikes + 1 : 0;
    if (this.#strikes < STRIKES) return false;
    this.#strikes = 0;
    this.#active = true;
    this.#lowestC = temperatureC;
    return true;
  }

  #hasRecovered(zone: ZoneSituation, temperatureC: number): boolean {
    const distanceK = zone.setpointC > 0 ? zone.setpointC - this.#lowestC : 0;
    // Beside its hole a sensor is warmed too, even to the set-point: its zone is hotter then.
    if (!zone.powerKnown && distanceK > BLIND.far.belowSetpointK && this.#steepestKPerS > 0)
      return riseKPerS(zone) > AS_FAST.share * this.#steepestKPerS;
    const wanted = zone.powerKnown ? zone.trace.greatestPower(5) > 0.05 : zone.setpointC > temperatureC;
    return !wanted || temperatureC >= this.#lowestC + Math.max(RECOVERED.leastK, RECOVERED.share * distanceK);
  }

  #noResponse(zone: ZoneSituation, temperatureC: number): boolean {
    // Close to the set-point the controller itself reduces the power.
    if (zone.setpointC > 0 && temperatureC > zone.setpointC - 3) return false;
    const steadyS = steadyPowerS(zone.trace);
    if (riseBreaksOff(zone, steadyS)) return true;
    const taken = zone.learnt.holdingPower(temperatureC) + greatestLoad(temperatureC);
    if (isSlowerThanSlowest(zone.trace, steadyS, taken, this.#lagged)) return true;
    const response = leastResponse(zone);
    if (response === null) return false;
    const { rateKPerS: rate, lastsS } = response;
    const isSlow = lastsS > LONGEST_DEAD_TIME_S;
    const drainKPerS = (isSlow ? NEIGHBOUR_RATE_OF_SLOW_PER_S : NEIGHBOUR_RATE_PER_S) * zone.neighboursColderK;
    // Power that was just reduced explains a pause.
    if (!(zone.trace.leastPowerBehind(0, lastsS) > taken)) return false;
    let expectedK = 0;
    let age = 0;
    for (const windowS of WINDOWS_S) {
      for (; age < windowS; age++) expectedK += rate * (zone.trace.leastPowerBehind(age, lastsS) - taken) - drainKPerS;
      // NaN while the trace is too short.
      if (Number.isNaN(expectedK)) return false;
      if (expectedK < LEAST_EXPECTED_K) continue;
      const riseK = temperatureC - zone.trace.meanTemperature(windowS, 3);
      if (riseK < SHARE * expectedK) return true;
    }
    return false;
  }

  #followRise(zone: ZoneSituation): void {
    const kPerS = Math.min(GREATEST_HEATING_RATE_K_PER_S, riseKPerS(zone));
    if (kPerS > Math.max(AS_FAST.leastKPerS, this.#steepestKPerS)) this.#steepestKPerS = kPerS;
  }

  #noResponseBlind(zone: ZoneSituation, temperatureC: number): boolean {
    const belowK = zone.setpointC - temperatureC;
    this.#wantedS = belowK > BLIND.near.belowSetpointK ? this.#wantedS + 1 : 0;
    if (this.#wantedS < BLIND.deadS + BLIND.windowS || zone.hotStartAgoS < BLIND.afterHotStartS) return false;
    const { leastRiseK } = belowK > BLIND.far.belowSetpointK ? BLIND.far : BLIND.near;
    return temperatureC - zone.trace.meanTemperature(BLIND.windowS, 3) < leastRiseK;
  }

  reset(): void {
    this.#recovery.reset();
    this.#strikes = 0;
    this.#active = false;
    this.#wantedS = 0;
    this.#steepestKPerS = 0;
  }
}

/** The rise of the last seconds, for all the power that no healthy zone needs to hold its temperature, K/s; NaN = not known. */
function riseKPerS({ trace }: ZoneSituation): number {
  if (trace.seconds < AS_FAST.overS + 3) return Number.NaN;
  const temperatureC = trace.meanTemperature(0, 3);
  const roseK = temperatureC - trace.meanTemperature(AS_FAST.overS, 3);
  return roseK / AS_FAST.overS / (1 - greatestHoldingPower(temperatureC));
}

/** The least that the zone must show: by its own heat-up so far; else by that of the other zones, because the zones of a line are of a kind. */
function leastResponse({ learnt, elsewhere }: ZoneSituation): ZoneResponse | null {
  const own = learnt.response;
  if (own !== null) return { rateKPerS: OWN_SHARE * own.rateKPerS, lastsS: own.lastsS };
  if (elsewhere === null) return null;
  return { ...elsewhere, rateKPerS: Math.min(LEAST_HEATING_RATE_K_PER_S, OTHERS_SHARE * elsewhere.rateKPerS) };
}
