import { GREATEST_LOAD, ROOM_C } from './healthy-zone.ts';
import type { LaggedPower } from './lagged-power.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';
import type { ExpectedReading } from './zone-status.ts';
import type { TraceView } from './zone-trace.ts';

/** Changes are compared with the model over each of these, s: short windows for large faults, long ones for small faults. */
const WINDOWS_S = [6, 9, 13, 18, 26, 36] as const;
/** And over these where the zone is slow: a change takes longer to stand out from the noise. */
const SLOW = { windowsS: [52, 75], rateKPerS: 0.4 } as const;
const WINDOWS_OF_SLOW_S = [...WINDOWS_S, ...SLOW.windowsS];
/** Possible error of the learnt exchange with neighbours, 1/s: where all zones heat up together, it is hardly learnt. */
export const EXCHANGE_OFF_PER_S = 1 / 1000;
/** Anything beyond this many standard deviations is not noise. */
const SIGMAS = 3.5;
/** Noise that wanders over seconds, and which the trace's noise estimate misses, K. */
const WANDERING_K = 0.08;
/** Share of the model's residual to allow for; most of the residual arises while the power changes. */
const FIT_SHARE = 0.6;
/** Share of the heat stored when the trace began that must remain for the reading to limit how much it was. */
const LEAST_STORED_SHARE = 0.4;
/** The expected reading is calculated from the reading this long ago, s. */
const EXPECTED_FROM_S = 13;
/** Heat that may come from elsewhere (friction of the screw, the end of a load included in the model), share of full power. */
export const POSSIBLE_RELIEF = 0.15;
/** Possible error of the model, as a share of full power. */
const MODEL_OFF = 0.05;
/** The same in proportion to the power. */
export const POWER_DOUBT = 0.08;
/** The greatest load and the greatest error of the model hardly ever meet. That error is in the doubt of each balance already. */
const MOST_BEYOND_DOUBT = Math.hypot(GREATEST_LOAD, MODEL_OFF) - MODEL_OFF;

/**
 * Heat that a zone lost or gained beyond what its power, losses and neighbours explain, as a share of full power. Noise and
 * the model's possible error are already subtracted.
 */
export interface HeatBalance {
  /** Heat that is certainly missing. */
  readonly deficit: number;
  /** Power that was effective while it went missing. */
  readonly powerThen: number;
  /** Heat that is certainly in excess. */
  readonly excess: number;
  /** Change over the window with the greatest deficit, K/s. */
  readonly slopeKPerS: number;
  /** The least change that the model expects over that window, K/s. */
  readonly leastSlopeKPerS: number;
  /** Where the reading should be now; null = the trace is too short. */
  readonly expected: ExpectedReading | null;
  /** Most heat that the heater can have stored when the trace began, share of full power. */
  readonly storedAtMost: number;
}

/**
 * The heat balance of the last seconds. `storedAtMost`: the most heat that the heater can have stored when the trace began,
 * according to the balances since then; share of full power, 1 = not known yet.
 */
export function heatBalance(
  trace: TraceView,
  model: ThermalModel,
  lagged: LaggedPower,
  storedAtMost: number,
): HeatBalance {
  lagged.follow(trace, model.lagS, model.secondLagS);
  let deficit = Number.NEGATIVE_INFINITY;
  let excess = Number.NEGATIVE_INFINITY;
  let powerThen = 0;
  let slope = 0;
  let leastSlope = 0;
  let expectedNow: ExpectedReading | null = null;
  let stored = storedAtMost;
  const nowC = trace.meanTemperature(0, 3);
  let spanS = 0;
  let sumC = 0;
  let sumNeighboursK = 0;
  for (const windowS of windowsOf(model)) {
    const { least, mostFromTrace, most, storedShare } = effectivePower(model, lagged, windowS, storedAtMost);
    if (Number.isNaN(least) || trace.seconds < windowS + 3) break;
    const change = nowC - trace.meanTemperature(windowS, 3);
    sumC += trace.meanTemperature(1 + spanS, windowS - spanS) * (windowS - spanS);
    sumNeighboursK += trace.meanNeighbours(1 + spanS, windowS - spanS) * (windowS - spanS);
    spanS = windowS;
    const temperatureC = sumC / windowS;
    const neighboursK = sumNeighboursK / windowS;
    const exchangeOff = (EXCHANGE_OFF_PER_S * Math.abs(neighboursK - model.neighboursK)) / model.rateKPerS;
    const doubt = balanceDoubt(model, trace.noiseK, windowS) + exchangeOff;
    const unit = windowS * model.rateKPerS;
    const expected = slopeKPerS(model, least, temperatureC, neighboursK);
    if (windowS === EXPECTED_FROM_S) {
      const beforeC = nowC - change;
      const down = doubt + POWER_DOUBT * least + possibleLoad(temperatureC);
      const up = doubt + POWER_DOUBT * most + POSSIBLE_RELIEF;
      expectedNow = {
        lowC: beforeC + windowS * expected - down * unit,
        highC: beforeC + windowS * slopeKPerS(model, most, temperatureC, neighboursK) + up * unit,
      };
    }
    const deficitNow = (windowS * expected - change) / unit;
    if (storedShare > LEAST_STORED_SHARE) {
      const gained = (change - windowS * slopeKPerS(model, mostFromTrace, temperatureC, neighboursK)) / unit;
      stored = Math.max(0, Math.min(stored, (gained + doubt + possibleLoad(temperatureC)) / storedShare));
    }
    const excessNow = (change - windowS * slopeKPerS(model, most, temperatureC, neighboursK)) / unit;
    const certainDeficit = deficitNow - doubt - POWER_DOUBT * least;
    if (certainDeficit > deficit) {
      deficit = certainDeficit;
      powerThen = least;
      slope = change / windowS;
      leastSlope = expected;
    }
    excess = Math.max(excess, excessNow - doubt - POWER_DOUBT * most);
  }
  return Number.isFinite(deficit)
    ? {
        deficit,
        powerThen,
        excess,
        slopeKPerS: slope,
        leastSlopeKPerS: leastSlope,
        expected: expectedNow,
        storedAtMost: stored,
      }
    : { deficit: 0, powerThen: 0, excess: 0, slopeKPerS: 0, leastSlopeKPerS: 0, expected: null, storedAtMost };
}

/** Changes of a zone are compared with its model over these, s. */
export function windowsOf(model: ThermalModel): readonly number[] {
  return model.rateKPerS < SLOW.rateKPerS ? WINDOWS_OF_SLOW_S : WINDOWS_S;
}

/** What noise and the model's error may add to a balance over a window, as a share of full power. `noiseK`: of a mean of three seconds. */
export function balanceDoubt(model: ThermalModel, noiseK: number, windowS: number): number {
  const changeK = Math.max(changeDoubtK(noiseK), SIGMAS * FIT_SHARE * model.fitK);
  return changeK / (windowS * model.rateKPerS) + MODEL_OFF;
}

/** A change between two means of three seconds, each with this noise, is no more noise beyond this, K. */
export function changeDoubtK(noiseK: number): number {
  return SIGMAS * Math.SQRT2 * readingOffK(noiseK);
}

/** Standard deviation of a mean of three seconds, with noise that wanders, K. */
export function readingOffK(noiseK: number): number {
  return Math.hypot(noiseK, WANDERING_K);
}

/** Power that was effective over a window that ends now, share of full power; NaN = the window reaches beyond the trace. */
interface EffectivePower {
  /** For any possible delay, without heat stored when the trace began. */
  readonly least: number;
  readonly mostFromTrace: number;
  /** Including all the heat that may have been stored then. */
  readonly most: number;
  /** Least share of that heat that can remain. */
  readonly storedShare: number;
}

function effectivePower(
  model: ThermalModel,
  lagged: LaggedPower,
  windowS: number,
  storedAtMost: number,
): EffectivePower {
  let least = Number.POSITIVE_INFINITY;
  let mostFromTrace = Number.NEGATIVE_INFINITY;
  let most = Number.NEGATIVE_INFINITY;
  let leastStored = Number.POSITIVE_INFINITY;
  const { deadTimeS, delayOffS } = model;
  for (const delayS of [Math.max(0, Math.round(deadTimeS - delayOffS)), deadTimeS, Math.round(deadTimeS + delayOffS)]) {
    const { fromTrace, storedShare } = lagged.splitMean(1 + delayS, windowS);
    least = Math.min(least, fromTrace);
    mostFromTrace = Math.max(mostFromTrace, fromTrace);
    most = Math.max(most, fromTrace + storedShare * storedAtMost);
    leastStored = Math.min(leastStored, storedShare);
  }
  return { least, mostFromTrace, most, storedShare: leastStored };
}

/** Heat that cold stock, a fan or a draught may take from a zone at a temperature, as a share of full power. */
export function possibleLoad(temperatureC: number): number {
  return MOST_BEYOND_DOUBT * Math.min(1.5, Math.max(0.1, (temperatureC - ROOM_C) / 180));
}
