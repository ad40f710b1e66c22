import { COOL_BELOW_C, GREATEST_LOAD, LOAD_WHILE_COOL, NEIGHBOUR_RATE_PER_S } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';

/** Windows in which a rise is looked for, s. */
const WINDOWS_S = [6, 8, 10, 13, 17, 25, 45] as const;
/** Too small an expected rise drowns in the sensor's noise, K. */
const LEAST_EXPECTED_K = 1.9;
/** Less than this share of the least that a healthy zone does is no rise. */
const SHARE = 0.4;
/** Seconds in a row that the rule must hold. */
const STRIKES = 2;
/** A rise by such a share of the way to the set-point, and K at least, ends the fault: creeping up is no heating. */
const RECOVERED = { share: 1 / 3, leastK: 3 } as const;

/**
 * Without the power nobody knows when the heater was asked: wait longer, and only far from the set-point. Close to it a weak
 * controller may creep. After a restart of a hot line its controller begins anew and may sag for minutes.
 */
const BLIND = {
  deadS: 25,
  windowS: 45,
  far: { belowSetpointK: 60, leastRiseK: 4 },
  near: { belowSetpointK: 15, leastRiseK: 1 },
  afterHotStartS: 300,
} as const;

/**
 * Power on and no rise. The rise in a window is held against the least that a healthy zone does with the power that it
 * can have been answering to (whatever its dead time), less what it needs to hold its temperature.
 */
export class NoRise implements SlowRule {
  #strikes = 0;
  #active = false;
  #lowestC = 0;
  #wantedS = 0;

  judge(zone: ZoneSituation): boolean {
    const temperatureC = zone.trace.meanTemperature(0, 3);
    if (this.#active) {
      this.#lowestC = Math.min(this.#lowestC, temperatureC);
      const asked = zone.powerKnown ? zone.trace.greatestPower(5) > 0.05 : zone.setpointC > temperatureC;
      const wayK = zone.setpointC > 0 ? zone.setpointC - this.#lowestC : 0;
      this.#active = asked && temperatureC < this.#lowestC + Math.max(RECOVERED.leastK, RECOVERED.share * wayK);
      return this.#active;
    }
    const seen = zone.powerKnown ? this.#noAnswer(zone, temperatureC) : this.#noAnswerBlind(zone, temperatureC);
    this.#strikes = seen ? this.#strikes + 1 : 0;
    if (this.#strikes < STRIKES) return false;
    this.#strikes = 0;
    this.#active = true;
    this.#lowestC = temperatureC;
    return true;
  }

  #noAnswer(zone: ZoneSituation, temperatureC: number): boolean {
    // Close to the set-point the controller itself brakes.
    if (zone.setpointC > 0 && temperatureC > zone.setpointC - 3) return false;
    const load = temperatureC < COOL_BELOW_C ? LOAD_WHILE_COOL : GREATEST_LOAD;
    const taken = zone.learnt.holdingPower(temperatureC) + load;
    const rate = zone.learnt.leastRateKPerS();
    const drainKPerS = NEIGHBOUR_RATE_PER_S * zone.neighboursColderK;
    // Power that was just taken back explains a pause.
    if (!(zone.trace.leastPowerBehind(0) > taken)) return false;
    let expectedK = 0;
    let age = 0;
    for (const windowS of WINDOWS_S) {
      for (; age < windowS; age++) expectedK += rate * (zone.trace.leastPowerBehind(age) - taken) - drainKPerS;
      // NaN while the trace is too short.
      if (Number.isNaN(expectedK)) return false;
      if (expectedK < LEAST_EXPECTED_K) continue;
      const riseK = temperatureC - zone.trace.meanTemperature(windowS, 3);
      if (riseK < SHARE * expectedK) return true;
    }
    return false;
  }

  #noAnswerBlind(zone: ZoneSituation, temperatureC: number): boolean {
    const belowK = zone.setpointC - temperatureC;
    this.#wantedS = belowK > BLIND.near.belowSetpointK ? this.#wantedS + 1 : 0;
    if (this.#wantedS < BLIND.deadS + BLIND.windowS || zone.armedHotS < BLIND.afterHotStartS) return false;
    const { leastRiseK } = belowK > BLIND.far.belowSetpointK ? BLIND.far : BLIND.near;
    return temperatureC - zone.trace.meanTemperature(BLIND.windowS, 3) < leastRiseK;
  }

  rearm(): void {
    this.#strikes = 0;
    this.#active = false;
    this.#wantedS = 0;
  }
}
