import { readingOffK } from './heat-balance.ts';
import { type LaggedPower, sharePerSecond } from './lagged-power.ts';
import { solve } from './least-squares.ts';
import { slopeKPerS, type ThermalModel } from './thermal-model.ts';
import type { TraceView } from './zone-trace.ts';

/** The reading is compared at this interval, s. Noise that wanders repeats itself within it, so its variance counts so many times. */
const STEP_S = 4;
const REPEATS = 4;
/** Power that differs from what it is now by no more than this share is steady. */
const STEADY_WITHIN = 0.1;
/** Times since the loss that are tried, s, and for how long before the power must have been steady. */
const SINCE_S = [28, 36, 44, 52, 60, 72, 84, 96, 112, 128, 148, 170, 200] as const;
const BEFORE_S = 20;
/**
 * Possible errors, the same before a loss and after it: of the first reading, K; of the model's heat and of the heat stored at
 * the start, as shares of full power; of the exchange with neighbours, 1/s. Standard deviations.
 */
const OFF = { readingK: 1, heat: 0.06, stored: 0.5, exchangePerS: 0.0006 } as const;
const ERRORS = 4;
/** A time of the loss is possible too if its log-likelihood is less than the greatest by no more than this. */
const POSSIBLE = 2;
const SIGMAS = 3;

/** Bounds of the share of its heat that a zone lost within the trace. */
export interface LostShare {
  readonly least: number;
  readonly most: number;
}

/**
 * How much of its heat a zone lost under steady power: a least-squares fit for each of several times of the loss. The model's errors
 * were there before the loss too, so they hide it less than they hide a heater that was always weak. `lagged` follows the trace by
 * the model's lags. null = the power has not been steady for long enough, or nothing was lost since.
 */
export function lostShare(trace: TraceView, model: ThermalModel, lagged: LaggedPower): LostShare | null {
  const spanS = steadyPowerS(trace) - model.deadTimeS;
  const sinces = SINCE_S.filter((sinceS) => sinceS + BEFORE_S <= spanS);
  if (sinces.length === 0) return null;
  const offK = Math.sqrt(REPEATS) * readingOffK(trace.noiseK);
  const responses = summedResponses(model, spanS);
  const { errors, unexpected } = errorsOf(trace, model, lagged, responses, offK);
  const squares = new Float64Array((ERRORS + 1) ** 2);
  for (let j = 0; j < ERRORS; j++)
    for (let k = 0; k <= j; k++) squares[j * (ERRORS + 1) + k] = dot(errors[j]!, errors[k]!) + (j === k ? 1 : 0);
  const products = Float64Array.from([...errors, unexpected], (column) => dot(column, unexpected));
  const lost = new Float64Array(unexpected.length);
  const fits: { sinceS: number; share: number; off: number; likelihood: number }[] = [];
  for (const sinceS of sinces) {
    const showsS = sinceS - model.deadTimeS;
    for (let i = 0; i < lost.length; i++) {
      const sinceThenS = showsS - (lost.length - 1 - i) * STEP_S;
      lost[i] = sinceThenS > 0 ? (-model.rateKPerS * trace.powerAt(0) * responses[sinceThenS]!) / offK : 0;
    }
    for (let k = 0; k < ERRORS; k++) squares[ERRORS * (ERRORS + 1) + k] = dot(lost, errors[k]!);
    squares[squares.length - 1] = dot(lost, lost) + 1;
    products[ERRORS] = dot(lost, unexpected);
    const values = solve(squares, products);
    const variances = solve(squares, UNIT);
    if (values === null || variances === null || !(values[ERRORS]! > 0)) continue;
    const likelihood = values.reduce((sum, value, j) => sum + value * products[j]!, 0) / 2;
    fits.push({ sinceS, share: values[ERRORS]!, off: Math.sqrt(variances[ERRORS]!), likelihood });
  }
  const greatest = Math.max(...fits.map(({ likelihood }) => likelihood));
  const earliest = fits.at(-1);
  if (earliest === undefined) return null;
  // The earliest time stands for all times before it, too: then how the zone rose before the loss is not known.
  if (earliest.sinceS === sinces.at(-1) && earliest.likelihood === greatest) return null;
  const possible = fits.filter(({ likelihood }) => likelihood > greatest - POSSIBLE);
  return {
    least: Math.min(...possible.map(({ share, off }) => share - SIGMAS * off)),
    most: Math.max(...possible.map(({ share, off }) => share + SIGMAS * off)),
  };
}

const UNIT = Float64Array.from({ length: ERRORS + 1 }, (_, j) => (j === ERRORS ? 1 : 0));

/** For how long the power has been about what it is now, s. */
function steadyPowerS(trace: TraceView): number {
  const power = trace.powerAt(0);
  let steadyS = 0;
  while (steadyS < trace.seconds - 3 && Math.abs(trace.powerAt(steadyS) - power) <= STEADY_WITHIN * power) steadyS++;
  return steadyS;
}

/** What each possible error does to the reading, and how far it is from the expected one, oldest first; in units of its noise. */
function errorsOf(
  trace: TraceView,
  model: ThermalModel,
  lagged: LaggedPower,
  responses: Float64Array,
  offK: number,
): { errors: Float64Array[]; unexpected: Float64Array } {
  const spanS = responses.length - 1;
  const { deadTimeS, rateKPerS } = model;
  const rows = Math.ceil(spanS / STEP_S);
  const errors = Array.from({ length: ERRORS }, () => new Float64Array(rows));
  const unexpected = new Float64Array(rows);
  const startC = trace.meanTemperature(spanS, 3);
  let expectedK = 0;
  let exchangeK = 0;
  for (let age = spanS - 1; age >= 0; age--) {
    const temperatureC = trace.meanTemperature(age, 3);
    const neighboursK = trace.meanNeighbours(age + 1, 1);
    expectedK += slopeKPerS(model, lagged.mean(1 + deadTimeS + age, 1), temperatureC, neighboursK);
    exchangeK += OFF.exchangePerS * (neighboursK - model.neighboursK);
    if (age % STEP_S !== 0) continue;
    const row = rows - 1 - age / STEP_S;
    const passedS = spanS - age;
    errors[0]![row] = OFF.readingK / offK;
    errors[1]![row] = (OFF.heat * rateKPerS * passedS) / offK;
    errors[2]![row] = (OFF.stored * rateKPerS * (passedS - responses[passedS]!)) / offK;
    errors[3]![row] = exchangeK / offK;
    unexpected[row] = (temperatureC - startC - expectedK) / offK;
  }
  return { errors, unexpected };
}

/** How a change of heat adds up in the reading: element i is the sum of its response over i seconds, the dead time left out, s. */
function summedResponses({ lagS, secondLagS }: ThermalModel, seconds: number): Float64Array {
  const sums = new Float64Array(seconds + 1);
  const share = sharePerSecond(lagS);
  const secondShare = sharePerSecond(secondLagS);
  let heat = 0;
  let response = 0;
  for (let i = 0; i < seconds; i++) {
    heat += (1 - heat) * share;
    response += (heat - response) * secondShare;
    sums[i + 1] = sums[i]! + response;
  }
  return sums;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}
