import { ROOM_C } from './healthy-zone.ts';
import { balanceDoubt, POWER_DOUBT, possibleLoad, windowsOf } from './heat-balance.ts';
import type { ThermalModel } from './thermal-model.ts';

/** A sensor that slips out halfway, and feels that within this time (common practice, no source). */
const SLIP = { share: 0.5, lagS: 20 } as const;
const HALF = 0.5;
/** The rules ask for two seconds in a row. */
const STRIKES_S = 2;
/** What takes longer cannot be distinguished from normal loads. */
const LONGEST_S = 600;
const STEP_S = 0.5;

/** How soon each fault of a zone shows in its heat balance, s; null = normal loads could explain it as long as the power stays as it is. */
export interface FaultVisibility {
  readonly lostWhileHeatingS: number | null;
  readonly lostWhileHoldingS: number | null;
  readonly halfLostWhileHeatingS: number | null;
  readonly halfLostWhileHoldingS: number | null;
  readonly slippedS: number | null;
}

/** What a zone's learnt model promises at a temperature. `noiseK`: standard deviation of one second's mean. */
export function faultVisibility(model: ThermalModel, temperatureC: number, noiseK: number): FaultVisibility {
  const holding = Math.min(1, Math.max(0, (model.lossPerS * (temperatureC - ROOM_C)) / model.rateKPerS));
  const lost = (power: number, share: number) => missingAfterS(model, temperatureC, noiseK, power, share);
  return {
    lostWhileHeatingS: lost(1, 1),
    lostWhileHoldingS: lost(holding, 1),
    halfLostWhileHeatingS: lost(1, HALF),
    halfLostWhileHoldingS: lost(holding, HALF),
    slippedS: slippedAfterS(model, temperatureC, noiseK, holding),
  };
}

/** When a share of the power's heat is certainly missing. The power stays as it is: a controller that raises it shows it sooner. */
function missingAfterS(
  model: ThermalModel,
  temperatureC: number,
  noiseK: number,
  power: number,
  share: number,
): number | null {
  // Missing heat as it reaches the reading, averaged from the fault on; half seconds.
  const sums = [0];
  let heater = 0;
  let sensor = 0;
  for (let t = STEP_S; t <= LONGEST_S; t += STEP_S) {
    if (t > model.deadTimeS) heater += (share - heater) * (model.lagS > 0 ? Math.min(1, STEP_S / model.lagS) : 1);
    sensor += (heater - sensor) * (model.secondLagS > 0 ? Math.min(1, STEP_S / model.secondLagS) : 1);
    sums.push(sums[sums.length - 1]! + sensor * STEP_S);
    for (const windowS of windowsOf(model)) {
      const before = sums[Math.max(0, sums.length - 1 - windowS / STEP_S)]!;
      const missing = (power * (sums[sums.length - 1]! - before)) / windowS;
      const doubt = balanceDoubt(model, noiseK, windowS) + POWER_DOUBT * power + possibleLoad(temperatureC);
      if (missing > doubt) return t + STRIKES_S;
    }
  }
  return null;
}

/** When a reading has fallen faster than a dead heater explains. */
function slippedAfterS(model: ThermalModel, temperatureC: number, noiseK: number, power: number): number | null {
  const dropK = SLIP.share * (temperatureC - ROOM_C);
  const fellK = (t: number) => dropK * (1 - Math.exp(-Math.max(0, t) / (SLIP.lagS + model.secondLagS)));
  for (let t = STEP_S; t <= LONGEST_S; t += STEP_S) {
    for (const windowS of windowsOf(model)) {
      const fallen = (fellK(t) - fellK(t - windowS)) / (windowS * model.rateKPerS);
      const doubt = balanceDoubt(model, noiseK, windowS) + POWER_DOUBT * power + possibleLoad(temperatureC);
      if (fallen > power + doubt + possibleLoad(temperatureC)) return t + STRIKES_S;
    }
  }
  return null;
}
