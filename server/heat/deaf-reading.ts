import type { FeltPower } from './felt-power.ts';
import { COLD_BELOW_C } from './healthy-zone.ts';
import { EXCHANGE_OFF_PER_S, possibleLoad } from './heat-balance.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** The longest stretch of stillness that is looked at, s; power is needed for a dead time before it. */
const LONGEST_S = 60;
const SHORTEST_S = 8;
/** The model may be off by so much, K, beside two steps of the sensor. */
const DOUBT_K = 0.8;
const DOUBT_STEPS = 2;
/** Its delay by this, s. */
const DELAY_OFF_S = 3;
/** And by this share of full power for as long as it lasts. */
const DOUBT_POWER = 0.08;

/**
 * Exactly the same reading for seconds while the zone's own model says that it must have moved: by more than any load could
 * hold against it; or, whatever constant load there is, because the power changed meanwhile.
 */
export function isDeaf(trace: ZoneTrace, model: ThermalModel, felt: FeltPower, stillS: number): boolean {
  const temperatureC = trace.temperatureC;
  const spanS = Math.floor(Math.min(stillS, LONGEST_S, trace.seconds - model.deadTimeS - DELAY_OFF_S - 1));
  if (!(spanS >= SHORTEST_S) || temperatureC < COLD_BELOW_C) return false;
  felt.follow(trace, model.lagS, model.secondLagS);
  const doubtK = DOUBT_K + DOUBT_STEPS * trace.stillness.resolutionK;
  const neighboursK = trace.meanNeighbours(0, spanS);
  const delays = [-DELAY_OFF_S, 0, DELAY_OFF_S].map((off) => Math.max(0, model.deadTimeS + off));
  const powers = delays.map((delayS) => felt.meanApart(delayS, spanS));
  const least = Math.min(...powers.map(({ since }) => since));
  const most = Math.max(...powers.map(({ since, left }) => since + left));
  const leastK = spanS * slopeKPerS(model, least, temperatureC, neighboursK);
  const mostK = spanS * slopeKPerS(model, most, temperatureC, neighboursK);
  const doubtAllK = doubtK + (DOUBT_POWER + trace.powerStep) * model.rateKPerS * spanS;
  if (leastK - possibleLoad(temperatureC) * model.rateKPerS * spanS > doubtAllK) return true;
  if (mostK + possibleLoad(temperatureC) * model.rateKPerS * spanS < -doubtAllK) return true;
  // What the heater held when the trace began, at most all, may have bent the way too.
  const heldK = model.rateKPerS * spanS * Math.max(...powers.map(({ left }) => left));
  // A power that is told in steps may be off by one of them before the middle, and by one to the other side after it.
  const stepK = (model.rateKPerS * spanS * 2 * trace.powerStep) / 4;
  const leastBendK = Math.min(...delays.map((delayS) => bendK(trace, model, felt, delayS, spanS)));
  return leastBendK > doubtK + heldK + stepK;
}

/**
 * How far the way that power and neighbours alone would have made bends from a straight line, what is not known of the exchange
 * taken off: no constant load makes up for that.
 */
function bendK(trace: ZoneTrace, model: ThermalModel, felt: FeltPower, delayS: number, spanS: number): number {
  const meanPower = felt.mean(delayS, spanS);
  const meanNeighboursK = trace.meanNeighbours(0, spanS);
  let wayK = 0;
  let lowest = 0;
  let highest = 0;
  let doubtK = 0;
  for (let age = spanS - 1; age >= 0; age--) {
    const hotterK = trace.meanNeighbours(age, 1) - meanNeighboursK;
    wayK += model.rateKPerS * (felt.mean(delayS + age, 1) - meanPower) + model.exchangePerS * hotterK;
    doubtK += EXCHANGE_OFF_PER_S * Math.abs(hotterK);
    lowest = Math.min(lowest, wayK);
    highest = Math.max(highest, wayK);
  }
  // What went one way in the first half comes back in the second.
  return highest - lowest - doubtK / 2;
}
