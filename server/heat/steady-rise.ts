import {
  COLD_BELOW_C,
  greatestLoad,
  HEATS_WITH,
  LEAST_NEIGHBOUR_RATE_OF_SLOW_PER_S,
  NEIGHBOUR_RATE_OF_SLOW_PER_S,
  SLOWEST,
} from './healthy-zone.ts';
import { changeDoubtK } from './heat-balance.ts';
import type { ZoneSituation } from './heat-rule.ts';
import type { LaggedPower } from './lagged-power.ts';
import { TRACE_S, type TraceView } from './zone-trace.ts';

/** Power down to this share of the greatest counts as the same. */
const SAME_POWER = 0.97;
/** Heat that the heater stored before bends the rise for so long, s. */
const STORED_S = 60;
/** The present rise is measured over these, earlier ones over this, at these intervals, s. */
const NOW_S = [8, 12, 20, 30] as const;
const EARLIER_S = 20;
const EVERY_S = 10;
/** A smaller earlier rise may be noise that wanders, as where full power is just enough, K/s. */
const LEAST_EARLIER_K_PER_S = 0.04;
/** Below this share of the least that can follow on an earlier rise, a rise breaks off. */
const BREAKS_OFF_SHARE = 0.8;
/** The slowest healthy zone is compared over these, s, and a healthy one shows at least this share of it. */
const SLOWEST_OVER_S = [20, 35, 60, 100, 150] as const;
const SLOWEST_SHARE = 0.75;
/** A rise over fewer readings is not known well enough. */
const LEAST_READINGS = 5;
/** The heat of a neighbour takes so long to show, s. */
const NEIGHBOUR_LAG_S = 10;

/** For how long the zone has been responding to the same power, s. */
export function steadyPowerS(trace: TraceView): number {
  const power = trace.greatestPower(TRACE_S);
  if (!(power > HEATS_WITH)) return 0;
  let steadyS = 0;
  while (steadyS < trace.seconds && trace.powerAt(steadyS) >= SAME_POWER * power) steadyS++;
  if (steadyS === 0) return 0;
  let storedHeat = trace.meanTemperature(steadyS - 1, 1) > COLD_BELOW_C;
  for (let age = steadyS; age < trace.seconds && !storedHeat; age++) storedHeat = trace.powerAt(age) > power / 2;
  return Math.min(steadyS, trace.seconds - 3) - (storedHeat ? STORED_S : 0);
}

/**
 * Under steady power a rise sets in, and from then on becomes less steep only as losses grow and neighbours fall behind. A rise
 * that becomes less steep than that has lost heat, or its sensor. `steadyS`: as `steadyPowerS` gives it.
 */
export function riseBreaksOff({ trace, learnt }: Pick<ZoneSituation, 'trace' | 'learnt'>, steadyS: number): boolean {
  const nowC = trace.meanTemperature(0, 3);
  /** Share of full power that is left for a rise. */
  const left = (temperatureC: number) => 1 - learnt.holdingPower(temperatureC);
  const leftNow = left(nowC) - greatestLoad(nowC);
  const changeK = changeDoubtK(trace.noiseK);
  for (const nowS of longEnough(trace, NOW_S)) {
    const roseK = nowC - trace.meanTemperature(nowS, 3);
    const neighboursK = trace.meanNeighbours(0, nowS);
    for (let age = nowS; age + EARLIER_S <= steadyS; age += EVERY_S) {
      const thenC = trace.meanTemperature(age, 3);
      const slopeKPerS = (thenC - trace.meanTemperature(age + EARLIER_S, 3)) / EARLIER_S;
      if (slopeKPerS < LEAST_EARLIER_K_PER_S) continue;
      const fellBehindK = Math.max(0, trace.meanNeighbours(age, EARLIER_S) - neighboursK);
      const leastKPerS = (slopeKPerS * leftNow) / left(thenC) - NEIGHBOUR_RATE_OF_SLOW_PER_S * fellBehindK;
      const doubtK = changeK * Math.hypot(1, (BREAKS_OFF_SHARE * nowS) / EARLIER_S);
      if (roseK < BREAKS_OFF_SHARE * leastKPerS * nowS - doubtK) return true;
    }
  }
  return false;
}

/** Under steady power the zone rises less than the slowest healthy one. `taken`: share of full power that goes elsewhere; `steadyS`: as `steadyPowerS` gives it. */
export function isSlowerThanSlowest(trace: TraceView, steadyS: number, taken: number, lagged: LaggedPower): boolean {
  if (steadyS < SLOWEST_OVER_S[0]) return false;
  lagged.follow(trace, SLOWEST.lagS, SLOWEST.secondLagS);
  const nowC = trace.meanTemperature(0, 3);
  const doubtK = changeDoubtK(trace.noiseK);
  for (const windowS of longEnough(trace, SLOWEST_OVER_S)) {
    if (windowS > steadyS || windowS + NEIGHBOUR_LAG_S > trace.seconds) return false;
    const power = lagged.splitMean(1 + SLOWEST.deadTimeS, windowS).fromTrace;
    const leastKPerS = SLOWEST.rateKPerS * (power - taken) + leastFromNeighbours(trace, NEIGHBOUR_LAG_S, windowS);
    if (nowC - trace.meanTemperature(windowS, 3) < SLOWEST_SHARE * leastKPerS * windowS - doubtK) return true;
  }
  return false;
}

/** What hotter neighbours bring a slow zone at least, or colder ones take at most, K/s: a mean of `span` seconds that ended `age` s ago. */
export function leastFromNeighbours(trace: TraceView, age: number, span: number): number {
  const neighboursK = trace.meanNeighbours(age, span);
  return neighboursK * (neighboursK > 0 ? LEAST_NEIGHBOUR_RATE_OF_SLOW_PER_S : NEIGHBOUR_RATE_OF_SLOW_PER_S);
}

function longEnough(trace: TraceView, windowsS: readonly number[]): readonly number[] {
  return windowsS.filter((windowS) => windowS >= LEAST_READINGS * trace.spacingS);
}
