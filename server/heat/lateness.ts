import { LEAST_HEATING_RATE_K_PER_S } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';

/** Three times the time that the model needs, and this, is late, s: a gentle controller takes its time for the last kelvins. */
const TIMES = 3;
const GRACE_S = 300;
/** Where nothing was learnt: the slowest healthy zone, slowed down as it gets hot. */
const UNLEARNT_SHARE = 0.4;
/** The model's way is followed in steps of so many seconds. */
const STEP_S = 5;
/** A zone that would rise more slowly has come to its end, K/s. */
const STANDS_K_PER_S = 0.02;

/** A set-point that is not reached by the time by which it should be. The time runs anew with each new set-point. */
export class Lateness implements SlowRule {
  #setpointC = Number.NaN;
  #dueS = Number.POSITIVE_INFINITY;
  #reached = false;

  judge(zone: ZoneSituation): boolean {
    const temperatureC = zone.trace.meanTemperature(0, 3);
    if (!(zone.setpointC > 0) || Number.isNaN(temperatureC)) {
      this.rearm();
      return false;
    }
    if (zone.setpointC !== this.#setpointC) {
      this.#setpointC = zone.setpointC;
      this.#reached = false;
      this.#dueS = TIMES * expectedS(zone, temperatureC) + GRACE_S;
    }
    if (temperatureC >= zone.setpointC - zone.withinC) this.#reached = true;
    return !this.#reached && zone.setpointSteadyS > this.#dueS;
  }

  rearm(): void {
    this.#setpointC = Number.NaN;
  }
}

/** How long it should take from here at full power, s. */
function expectedS(zone: ZoneSituation, fromC: number): number {
  const goalC = zone.setpointC - zone.withinC;
  if (fromC >= goalC) return 0;
  return zone.model === null
    ? (goalC - fromC) / (UNLEARNT_SHARE * LEAST_HEATING_RATE_K_PER_S)
    : byModelS(zone.model, fromC, goalC);
}

/** A set-point beyond what full power reaches is late once the zone would have come to where it ends. */
function byModelS(model: ThermalModel, fromC: number, goalC: number): number {
  let temperatureC = fromC;
  let seconds = model.deadTimeS + model.lagS + model.secondLagS;
  while (temperatureC < goalC) {
    const slope = slopeKPerS(model, 1, temperatureC, model.neighboursK);
    if (slope < STANDS_K_PER_S) break;
    temperatureC += STEP_S * slope;
    seconds += STEP_S;
  }
  return seconds;
}
