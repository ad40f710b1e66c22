import { ROOM_C } from './healthy-zone.ts';
import {
  balanceDoubt,
  EXCHANGE_OFF_PER_S,
  POSSIBLE_RELIEF,
  POWER_DOUBT,
  possibleLoad,
  windowsOf,
} from './heat-balance.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';
import { RISES_SHARE, STRIKES, WEAK, WORKS } from './unexplained-heat.ts';

/** A sensor that slips out halfway, and feels that within this time (common practice, no source). */
const SLIP = { share: 0.5, lagS: 20 } as const;
const HALF = 0.5;
/** A second counts once it is complete, and the balance compares means of three. */
const SECONDS_S = 2;
/** What takes longer cannot be distinguished from normal loads. */
const LONGEST_S = 600;
const STEP_S = 0.5;
/**
 * The rules allow for all the doubt. The reading may be off by half as much the other way, and the fault must still be found
 * (measured on the bench).
 */
const BOTH_WAYS = 1.5;
/** A zone between two others falls behind both. */
const NEIGHBOURS = 2;

/**
 * Time within which each fault of a zone is reported, s; null = normal loads could explain it as long as the power stays as it
 * is. Long enough for the model's error, the noise and the neighbours' heat: most faults are reported sooner.
 */
export interface FaultVisibility {
  readonly lostWhileHeatingS: number | null;
  readonly lostWhileHoldingS: number | null;
  readonly halfLostWhileHeatingS: number | null;
  readonly halfLostWhileHoldingS: number | null;
  readonly slippedS: number | null;
  /** A switch that is stuck on while the zone holds its set-point. */
  readonly stuckWhileHoldingS: number | null;
}

/** What a zone's learnt model promises at a temperature. `noiseK`: standard deviation of a mean of three seconds. */
export function faultVisibility(model: ThermalModel, temperatureC: number, noiseK: number): FaultVisibility {
  const holding = holdingPower(model, temperatureC);
  const load = possibleLoad(temperatureC);
  // Zones that heat up together differ from what they were when the exchange was learnt.
  const apartK = Math.abs(model.neighboursK);
  const after = (changed: Change) => certainAfterS(model, noiseK, changed);
  const halfLost = (rise: number) => {
    const failed = after({ heat: HALF, power: 1, explained: load, apartK, forS: STRIKES });
    // A slow zone loses half its heat so gradually that it seems to fade, and a faded heater must lack more.
    const works = fallsAfterS(model, ((1 - WORKS.share) * rise) / HALF);
    if (failed !== null && failed - works < WORKS.untilAgoS) return failed;
    return after({ heat: HALF, power: 1, explained: load + WEAK.share, apartK, forS: WEAK.forS });
  };
  return {
    lostWhileHeatingS: after({ heat: 1, power: 1, explained: load, atLeast: 1 - RISES_SHARE, apartK, forS: STRIKES }),
    lostWhileHoldingS: after({ heat: holding, power: holding, explained: load, forS: STRIKES }),
    halfLostWhileHeatingS: halfLost(1 - holding),
    halfLostWhileHoldingS: after({ heat: HALF * holding, power: holding, explained: load, forS: STRIKES }),
    slippedS: slippedAfterS(model, temperatureC, noiseK, holding),
    stuckWhileHoldingS: after({ heat: 1 - holding, power: holding, explained: POSSIBLE_RELIEF, forS: STRIKES }),
  };
}

/** Power that holds a temperature beside the neighbours that the zone was learnt with, 0…1. */
function holdingPower(model: ThermalModel, temperatureC: number): number {
  return Math.min(1, Math.max(0, -slopeKPerS(model, 0, temperatureC, model.neighboursK) / model.rateKPerS));
}

/** A sudden change of a zone's heat; heat as a share of full power. */
interface Change {
  /** Missing, or in excess. */
  readonly heat: number;
  /** Power that the board sends. */
  readonly power: number;
  /** What normal operation explains. */
  readonly explained: number;
  /** Less than this is not reported, however certain. */
  readonly atLeast?: number;
  /** By how much the neighbours are hotter or colder than the zone was learnt with, K. */
  readonly apartK?: number;
  /** It must show for so long, s. */
  readonly forS: number;
}

/** When a change is certain. The power stays as it is: a controller that reacts shows it sooner. */
function certainAfterS(model: ThermalModel, noiseK: number, change: Change): number | null {
  const { heat, power, explained, atLeast = 0, apartK = 0, forS } = change;
  const responses = responsesOf(model);
  // The change as it reaches the reading, summed from the fault on.
  const sums = [0];
  for (const [i, response] of responses.entries()) {
    const t = (i + 1) * STEP_S;
    const sum = sums[i]! + response * STEP_S;
    sums.push(sum);
    // The further the zone is from its neighbours, the less certain is their heat.
    const exchangeOff = EXCHANGE_OFF_PER_S * (NEIGHBOURS * heat * sum + apartK / model.rateKPerS);
    for (const windowS of windowsOf(model)) {
      const shown = (heat * (sum - sums[Math.max(0, sums.length - 1 - windowS / STEP_S)]!)) / windowS;
      const doubt = BOTH_WAYS * balanceDoubt(model, noiseK, windowS) + exchangeOff + POWER_DOUBT * power;
      if (shown > Math.max(atLeast, doubt + explained)) return t + forS + SECONDS_S;
    }
  }
  return null;
}

/** When a share of a change of heat shows over the shortest window, s. */
function fallsAfterS(model: ThermalModel, share: number): number {
  const reached = responsesOf(model).findIndex((response) => response >= share) * STEP_S;
  return reached + windowsOf(model)[0]! / 2;
}

/** Share of a change of heat that has reached the reading after each half second; as late as the model allows. */
function responsesOf({ deadTimeS, delayOffS, lagS, secondLagS }: ThermalModel): number[] {
  let heater = 0;
  let sensor = 0;
  return Array.from({ length: LONGEST_S / STEP_S }, (_, i) => {
    if ((i + 1) * STEP_S > deadTimeS + delayOffS) heater += (1 - heater) * (lagS > 0 ? Math.min(1, STEP_S / lagS) : 1);
    sensor += (heater - sensor) * (secondLagS > 0 ? Math.min(1, STEP_S / secondLagS) : 1);
    return sensor;
  });
}

/** When a reading has fallen faster than a dead heater explains. */
function slippedAfterS(model: ThermalModel, temperatureC: number, noiseK: number, power: number): number | null {
  const dropK = SLIP.share * (temperatureC - ROOM_C);
  const fellK = (t: number) => dropK * (1 - Math.exp(-Math.max(0, t) / (SLIP.lagS + model.secondLagS)));
  for (let t = STEP_S; t <= LONGEST_S; t += STEP_S) {
    for (const windowS of windowsOf(model)) {
      const fallen = (fellK(t) - fellK(t - windowS)) / (windowS * model.rateKPerS);
      const doubt = BOTH_WAYS * balanceDoubt(model, noiseK, windowS) + POWER_DOUBT * power;
      if (fallen > power + doubt + 2 * possibleLoad(temperatureC)) return t + STRIKES + SECONDS_S;
    }
  }
  return null;
}
