import type { FeltPower } from './felt-power.ts';
import { ROOM_C } from './healthy-zone.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';
import type { ExpectedReading } from './zone-status.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** Changes are held against the model over each of these, s: short ones for coarse faults, long ones for fine ones. */
const WINDOWS_S = [6, 9, 13, 18, 26, 36] as const;
/** What a neighbour brings is hardly learnt where all zones heat at once: it may be off by so much, 1/s. */
export const EXCHANGE_OFF_PER_S = 1 / 1000;
/** So many standard deviations are no noise. */
const SIGMAS = 3.5;
/** Noise that wanders over seconds does not show in the bends, K. */
const WANDERING_K = 0.08;
/** Cold stock, a fan or a draught takes up to this at 200 °C (common practice, no source), share of full power. */
const LOAD = 0.16;
/** Most of what the model leaves over comes while the power changes. */
const FIT_SHARE = 0.6;
/** Of the heat held when the trace began so much must be left for the reading to tell how much it was at most. */
const LEFT_TO_TELL = 0.4;
/** Where the reading is expected now is told from so many seconds ago. */
const EXPECTED_FROM_S = 13;
/** Heat that may come from nowhere (friction of the screw, the end of a load that was learnt with), share of full power. */
export const POSSIBLE_RELIEF = 0.15;
/** What the model may be off in any case, as a share of full power. */
const MODEL_OFF = 0.05;
const MODEL_OFF_OF_POWER = 0.08;

/**
 * What came and went of a zone's heat that its power, its losses and its neighbours do not explain, as a share of full
 * power, noise and the model's own doubt taken off in the zone's favour.
 */
export interface HeatBalance {
  /** Heat that is missing, beyond doubt. */
  readonly lacking: number;
  /** Power that was at work while it went missing. */
  readonly powerThen: number;
  /** Heat too much, beyond doubt. */
  readonly excess: number;
  /** Change over the stretch that lacks most, K/s, and what the model expects of it at the least. */
  readonly slopeKPerS: number;
  readonly leastSlopeKPerS: number;
  /** Where the reading should be now; null = too little was seen. */
  readonly expected: ExpectedReading | null;
  /** What the heater can have held at most when the trace began, share of full power. */
  readonly heldAtMost: number;
}

/**
 * Draws the balance of the last seconds. Once a second. `heldAtMost`: what the heater can have held when the trace began, as
 * far as the balances since then have shown; share of full power, 1 = nothing shown yet.
 */
export function heatBalance(trace: ZoneTrace, model: ThermalModel, felt: FeltPower, heldAtMost: number): HeatBalance {
  felt.follow(trace, model.lagS, model.secondLagS);
  let lacking = Number.NEGATIVE_INFINITY;
  let excess = Number.NEGATIVE_INFINITY;
  let powerThen = 0;
  let slope = 0;
  let leastSlope = 0;
  let expectedNow: ExpectedReading | null = null;
  let held = heldAtMost;
  const nowC = trace.meanTemperature(0, 3);
  const noiseK = Math.max(Math.SQRT2 * Math.hypot(trace.noiseK / Math.sqrt(3), WANDERING_K), FIT_SHARE * model.fitK);
  let spanS = 0;
  let sumC = 0;
  let sumNeighboursK = 0;
  for (const windowS of WINDOWS_S) {
    const { least, since, most, left } = powerAtWork(model, felt, windowS, heldAtMost);
    if (Number.isNaN(least) || trace.seconds < windowS + 3) break;
    const change = nowC - trace.meanTemperature(windowS, 3);
    sumC += trace.meanTemperature(1 + spanS, windowS - spanS) * (windowS - spanS);
    sumNeighboursK += trace.meanNeighbours(1 + spanS, windowS - spanS) * (windowS - spanS);
    spanS = windowS;
    const temperatureC = sumC / windowS;
    const neighboursK = sumNeighboursK / windowS;
    const exchangeOff = (EXCHANGE_OFF_PER_S * Math.abs(neighboursK - model.neighboursK)) / model.rateKPerS;
    const doubt = (SIGMAS * noiseK) / (windowS * model.rateKPerS) + MODEL_OFF + exchangeOff;
    const unit = windowS * model.rateKPerS;
    const expected = slopeKPerS(model, least, temperatureC, neighboursK);
    if (windowS === EXPECTED_FROM_S) {
      const beforeC = nowC - change;
      const down = doubt + MODEL_OFF_OF_POWER * least + possibleLoad(temperatureC);
      const up = doubt + MODEL_OFF_OF_POWER * most + POSSIBLE_RELIEF;
      expectedNow = {
        lowC: beforeC + windowS * expected - down * unit,
        highC: beforeC + windowS * slopeKPerS(model, most, temperatureC, neighboursK) + up * unit,
      };
    }
    const less = (windowS * expected - change) / unit;
    if (left > LEFT_TO_TELL) {
      const came = (change - windowS * slopeKPerS(model, since, temperatureC, neighboursK)) / unit;
      held = Math.max(0, Math.min(held, (came + doubt + possibleLoad(temperatureC)) / left));
    }
    const more = (change - windowS * slopeKPerS(model, most, temperatureC, neighboursK)) / unit;
    if (less - doubt - MODEL_OFF_OF_POWER * least > lacking) {
      lacking = less - doubt - MODEL_OFF_OF_POWER * least;
      powerThen = least;
      slope = change / windowS;
      leastSlope = expected;
    }
    excess = Math.max(excess, more - doubt - MODEL_OFF_OF_POWER * most);
  }
  return Number.isFinite(lacking)
    ? {
        lacking,
        powerThen,
        excess,
        slopeKPerS: slope,
        leastSlopeKPerS: leastSlope,
        expected: expectedNow,
        heldAtMost: held,
      }
    : { lacking: 0, powerThen: 0, excess: 0, slopeKPerS: 0, leastSlopeKPerS: 0, expected: null, heldAtMost };
}

/** Power that was at work over a window that ends now, share of full power; NaN = the window reaches beyond the trace. */
interface PowerAtWork {
  /** As far as the delay may be off; nothing held when the trace began. */
  readonly least: number;
  readonly since: number;
  /** With all that may have been held then. */
  readonly most: number;
  /** The least share that can be left of what was held. */
  readonly left: number;
}

function powerAtWork(model: ThermalModel, felt: FeltPower, windowS: number, heldAtMost: number): PowerAtWork {
  const shortestS = Math.max(0, Math.round(model.deadTimeS - model.delayOffS));
  const longestS = Math.round(model.deadTimeS + model.delayOffS);
  const means = [shortestS, model.deadTimeS, longestS].map((delayS) => felt.meanApart(1 + delayS, windowS));
  const sinces = means.map(({ since }) => since);
  return {
    least: Math.min(...sinces),
    since: Math.max(...sinces),
    most: Math.max(...means.map(({ since, left }) => since + left * heldAtMost)),
    left: Math.min(...means.map(({ left }) => left)),
  };
}

/** Heat that cold stock, a fan or a draught may take of a zone at a temperature, as a share of full power. */
export function possibleLoad(temperatureC: number): number {
  return LOAD * Math.min(1.5, Math.max(0.1, (temperatureC - ROOM_C) / 180));
}
