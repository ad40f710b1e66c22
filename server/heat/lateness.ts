import { LEAST_HEATING_RATE_K_PER_S } from './healthy-zone.ts';
import type { SlowRule, ZoneSituation } from './heat-rule.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';

/** Three times the time that the model needs, and this, is late, s: a gentle controller takes its time for the last kelvins. */
const TIMES = 3;
const GRACE_S = 300;
/** Where nothing was learnt: the slowest healthy zone, slowed down as it gets hot. */
const UNLEARNT_SHARE = 0.4;
/** One that will be there within so long, as it rises now, only takes its time. Its rise is measured over as long, at most, s. */
const SOON_S = 180;
const RISE_S = 80;
/** A controller that raises its power by so much between two stretches of so many seconds is still at work; it gets this longer, s. */
const TRIES = { power: 0.02, spanS: 30, apartS: 60 } as const;
const PATIENCE_S = 600;
/** The model's way is followed in steps of so many seconds. */
const STEP_S = 5;
/** A zone that would rise more slowly has come to its end, K/s. */
const STANDS_K_PER_S = 0.02;

/** A set-point that is not reached by the time by which it should be. The time runs anew with each new set-point. */
export class Lateness implements SlowRule {
  #setpointC = Number.NaN;
  #fromC = Number.NaN;
  #reached = false;

  judge(zone: ZoneSituation): boolean {
    const temperatureC = zone.trace.meanTemperature(0, 3);
    if (!(zone.setpointC > 0) || zone.trace.seconds < 3 || Number.isNaN(temperatureC)) {
      this.rearm();
      return false;
    }
    if (zone.setpointC !== this.#setpointC) {
      this.#setpointC = zone.setpointC;
      this.#reached = false;
      this.#fromC = temperatureC;
    }
    if (temperatureC >= zone.setpointC - zone.withinC) this.#reached = true;
    if (this.#reached || zone.setpointSteadyS <= GRACE_S || comesSoon(zone, temperatureC)) return false;
    const dueS = TIMES * expectedS(zone, this.#fromC) + GRACE_S;
    return zone.setpointSteadyS > dueS + (stillTries(zone) ? PATIENCE_S : 0);
  }

  rearm(): void {
    this.#setpointC = Number.NaN;
  }
}

function comesSoon({ trace, setpointC, withinC }: ZoneSituation, temperatureC: number): boolean {
  const riseS = Math.min(RISE_S, trace.seconds - 3);
  if (riseS <= 0) return false;
  const slopeKPerS = (temperatureC - trace.meanTemperature(riseS, 3)) / riseS;
  return setpointC - withinC - temperatureC < SOON_S * slopeKPerS;
}

function stillTries({ trace, powerKnown }: ZoneSituation): boolean {
  const { power, spanS, apartS } = TRIES;
  if (!powerKnown || trace.seconds < apartS + spanS) return false;
  return trace.meanPower(0, spanS) > trace.meanPower(apartS, spanS) + power;
}

/** How long it should take from here at full power, s. */
function expectedS(zone: ZoneSituation, fromC: number): number {
  const goalC = zone.setpointC - zone.withinC;
  if (fromC >= goalC) return 0;
  return zone.model === null
    ? (goalC - fromC) / (UNLEARNT_SHARE * LEAST_HEATING_RATE_K_PER_S)
    : byModelS(zone.model, fromC, goalC, zone.neighboursHotterK - zone.neighboursColderK);
}

/**
 * A set-point beyond what full power reaches is late once the zone would have come to where it ends. Neighbours that are colder now
 * than while it was learnt make it slower.
 */
function byModelS(model: ThermalModel, fromC: number, goalC: number, neighboursNowK: number): number {
  const neighboursK = Math.min(model.neighboursK, neighboursNowK);
  let temperatureC = fromC;
  let seconds = model.deadTimeS + model.lagS + model.secondLagS;
  while (temperatureC < goalC) {
    const slope = slopeKPerS(model, 1, temperatureC, neighboursK);
    if (slope < STANDS_K_PER_S) break;
    temperatureC += STEP_S * slope;
    seconds += STEP_S;
  }
  return seconds;
}
