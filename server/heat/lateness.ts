import { LEAST_HEATING_RATE_K_PER_S } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';

/** Late after three times the model's time plus a grace period: a gentle controller is slow over the last kelvins. */
const TIMES = 3;
const GRACE_S = 300;
/** Without a model: the slowest healthy zone, which slows down as it gets hot. */
const UNLEARNT_SHARE = 0.4;
/** A zone that will arrive within this time at its present rate is not late, s. */
const SOON_S = 180;
/** The present rate is measured over at most this time, s. */
const RISE_S = 80;
/** A controller that raised its mean power by this much between two such windows is still responding. */
const RESPONDING = { power: 0.02, spanS: 30, apartS: 60 } as const;
/** Extra time for such a controller, s. */
const EXTRA_S = 600;
/** Step of the simulation by the model, s. */
const STEP_S = 5;
/** At a slower rise the zone has reached its final temperature, K/s. */
const LEVEL_K_PER_S = 0.02;

/** The zone has not reached its set-point in time. Each new set-point starts a new time. */
export class Lateness implements SlowRule {
  #setpointC = Number.NaN;
  #fromC = Number.NaN;
  #reached = false;

  check(zone: ZoneSituation): boolean {
    const temperatureC = zone.trace.meanTemperature(0, 3);
    if (!(zone.setpointC > 0) || zone.trace.seconds < 3 || Number.isNaN(temperatureC)) {
      this.reset();
      return false;
    }
    if (zone.setpointC !== this.#setpointC) {
      this.#setpointC = zone.setpointC;
      this.#reached = false;
      this.#fromC = temperatureC;
    }
    if (temperatureC >= zone.setpointC - zone.withinC) this.#reached = true;
    if (this.#reached || zone.setpointSteadyS <= GRACE_S || arrivesSoon(zone, temperatureC)) return false;
    const dueS = TIMES * expectedS(zone, this.#fromC) + GRACE_S;
    return zone.setpointSteadyS > dueS + (isStillResponding(zone) ? EXTRA_S : 0);
  }

  reset(): void {
    this.#setpointC = Number.NaN;
  }
}

function arrivesSoon({ trace, setpointC, withinC }: ZoneSituation, temperatureC: number): boolean {
  const riseS = Math.min(RISE_S, trace.seconds - 3);
  if (riseS <= 0) return false;
  const slopeKPerS = (temperatureC - trace.meanTemperature(riseS, 3)) / riseS;
  return setpointC - withinC - temperatureC < SOON_S * slopeKPerS;
}

function isStillResponding({ trace, powerKnown }: ZoneSituation): boolean {
  const { power, spanS, apartS } = RESPONDING;
  if (!powerKnown || trace.seconds < apartS + spanS) return false;
  return trace.meanPower(0, spanS) > trace.meanPower(apartS, spanS) + power;
}

/** Time that the zone should take at full power, s. */
function expectedS(zone: ZoneSituation, fromC: number): number {
  const goalC = zone.setpointC - zone.withinC;
  if (fromC >= goalC) return 0;
  return zone.model === null
    ? (zone.slowness * (goalC - fromC)) / (UNLEARNT_SHARE * LEAST_HEATING_RATE_K_PER_S)
    : modelTimeS(zone.model, fromC, goalC, zone.neighboursHotterK - zone.neighboursColderK);
}

/**
 * For a set-point that full power cannot reach: the time until the zone levels out. Neighbours that are colder now than when
 * the model was learnt make it slower.
 */
function modelTimeS(model: ThermalModel, fromC: number, goalC: number, neighboursNowK: number): number {
  const neighboursK = Math.min(model.neighboursK, neighboursNowK);
  let temperatureC = fromC;
  let seconds = model.deadTimeS + model.lagS + model.secondLagS;
  while (temperatureC < goalC) {
    const slope = slopeKPerS(model, 1, temperatureC, neighboursK);
    if (slope < LEVEL_K_PER_S) break;
    temperatureC += STEP_S * slope;
    seconds += STEP_S;
  }
  return seconds;
}
