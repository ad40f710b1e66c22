import { COLD_BELOW_C } from './healthy-zone.ts';
import { EXCHANGE_OFF_PER_S, possibleLoad } from './heat-balance.ts';
import type { LaggedPower } from './lagged-power.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';
import type { TraceView } from './zone-trace.ts';

/** Longest still stretch that is checked, s; the power must be known for a dead time before it. */
const LONGEST_S = 60;
const SHORTEST_S = 8;
/** Possible error of the model, K, in addition to two steps of the sensor. */
const DOUBT_K = 0.8;
const DOUBT_STEPS = 2;
/** Possible error of its delay, s. */
const DELAY_OFF_S = 3;
/** Possible error of its power balance, as a share of full power, all the while. */
const DOUBT_POWER = 0.08;

/**
 * The same reading for seconds although the zone's model says that it must have moved: by more than any load could hold it
 * back; or, under any constant load, because the power changed during that time.
 */
export function isUnresponsive(trace: TraceView, model: ThermalModel, lagged: LaggedPower, stillS: number): boolean {
  const temperatureC = trace.temperatureC;
  const spanS = Math.floor(Math.min(stillS, LONGEST_S, trace.seconds - model.deadTimeS - DELAY_OFF_S - 1));
  if (!(spanS >= SHORTEST_S) || temperatureC < COLD_BELOW_C) return false;
  lagged.follow(trace, model.lagS, model.secondLagS);
  const doubtK = DOUBT_K + DOUBT_STEPS * trace.stillness.resolutionK;
  const neighboursK = trace.meanNeighbours(0, spanS);
  const delays = [-DELAY_OFF_S, 0, DELAY_OFF_S].map((off) => Math.max(0, model.deadTimeS + off));
  const powers = delays.map((delayS) => lagged.splitMean(delayS, spanS));
  const least = Math.min(...powers.map(({ fromTrace }) => fromTrace));
  const most = Math.max(...powers.map(({ fromTrace, storedShare }) => fromTrace + storedShare));
  const leastK = spanS * slopeKPerS(model, least, temperatureC, neighboursK);
  const mostK = spanS * slopeKPerS(model, most, temperatureC, neighboursK);
  const loadK = possibleLoad(temperatureC) * model.rateKPerS * spanS;
  const doubtAllK = doubtK + (DOUBT_POWER + trace.powerStep) * model.rateKPerS * spanS;
  if (leastK - loadK > doubtAllK || mostK + loadK < -doubtAllK) return true;
  // Heat stored in the heater when the trace began, at most all of it, may have bent the curve too.
  const storedK = model.rateKPerS * spanS * Math.max(...powers.map(({ storedShare }) => storedShare));
  // A power known in steps may be wrong by one step before the middle, and by one step the other way after it.
  const stepK = (model.rateKPerS * spanS * 2 * trace.powerStep) / 4;
  const leastBendK = Math.min(...delays.map((delayS) => bendK(trace, model, lagged, delayS, spanS)));
  return leastBendK > doubtK + storedK + stepK;
}

/**
 * How far the curve that power and neighbours alone would have caused departs from a straight line, less the doubt about the
 * exchange, K. No constant load can cancel that.
 */
function bendK(trace: TraceView, model: ThermalModel, lagged: LaggedPower, delayS: number, spanS: number): number {
  const meanPower = lagged.mean(delayS, spanS);
  const meanNeighboursK = trace.meanNeighbours(0, spanS);
  let departureK = 0;
  let lowest = 0;
  let highest = 0;
  let doubtK = 0;
  for (let age = spanS - 1; age >= 0; age--) {
    const hotterK = trace.meanNeighbours(age, 1) - meanNeighboursK;
    departureK += model.rateKPerS * (lagged.mean(delayS + age, 1) - meanPower) + model.exchangePerS * hotterK;
    doubtK += EXCHANGE_OFF_PER_S * Math.abs(hotterK);
    lowest = Math.min(lowest, departureK);
    highest = Math.max(highest, departureK);
  }
  // The departure begins and ends at zero, so only half of the summed doubt adds up one way.
  return highest - lowest - doubtK / 2;
}
