import { FeltPower } from './felt-power.ts';
import { ROOM_C } from './healthy-zone.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** A change is looked at over so many seconds. */
const WINDOW_S = 12;
/** Dead times and lags that are tried, s. */
const DEAD_TIMES_S = [0, 1, 2, 3, 4, 6, 8, 11, 14, 18] as const;
const LAGS_S = [
  [0, 0],
  [3, 0],
  [6, 0],
  [10, 0],
  [15, 0],
  [3, 3],
  [6, 3],
  [10, 3],
  [14, 3],
  [6, 6],
  [10, 6],
  [14, 6],
] as const;
const LONGEST_S = 18;
const TRIALS = LAGS_S.flatMap((lagsS) => DEAD_TIMES_S.map((deadTimeS) => ({ lagsS, deadTimeS })));
/** Rise without which a heat-up teaches nothing, K. */
const LEAST_RISE_K = 60;
/** Fewer looks than this teach nothing. */
const LEAST_LOOKS = 60;
/** A model that leaves more than this unexplained is none, K. */
const WORST_FIT_K = 1.5;

/** Unknowns: rate, loss × 100, exchange × 100, warmth: scaled so that all are of the size of one. */
const UNKNOWNS = 4;
const SCALE = 100;
/** Variance of one look that the first beliefs are weighed against, K². */
const LOOK_VARIANCE = 0.1;
/** Beliefs before anything was seen (common practice, no source), and how far each may be off. */
const FIRST_BELIEF = { mean: [0.7, 0.15, 0.06, 0], off: [0.7, 0.2, 0.06, 0.02] } as const;
/** Dead time and lags together before anything was seen (common practice, no source), and how far that may be off, s. */
const FIRST_DELAY = { meanS: 13, offS: 8 } as const;
/** Looks that overlap tell the same again: so many count as one. */
const LOOKS_ALIKE = 20;
/** Dead time and lags stand for more lags than the model knows: they are off by this in any case, s. */
const LEAST_DELAY_OFF_S = 3;
const MOST_DELAY_OFF_S = 12;
/** How far what earlier evenings have taught may have changed by the next one. */
const KEPT_OFF = [0.1, 0.03, 0.03, 0.015] as const;

/** Squares of looks that no sensor falls below, K². */
const LEAST_NOISE_K2 = 0.002;
const DELAY_SIGMAS = 1.5;

interface Fit {
  readonly values: number[];
  /** Squares left over, K². */
  readonly rest: number;
  /** Which trial. */
  readonly at: number;
}

/**
 * Learns a zone's model from one heat-up, by least squares on changes over 12 s, for each of several dead times and lags;
 * the pair that explains most wins. What was learnt before is the belief to begin with.
 */
export class ModelLearning {
  readonly #before: ThermalModel | null;
  readonly #mean: readonly number[];
  /** How far each belief may be off. */
  readonly #off: readonly number[];
  /** What does not depend on dead time and lag: products of the other columns with each other, and with what is looked at. */
  readonly #squares = new Float64Array(UNKNOWNS * UNKNOWNS);
  readonly #products = new Float64Array(UNKNOWNS);
  /** What the beliefs about the other columns leave over, squared and summed. */
  #rests = 0;
  /** One row a trial: products of the felt power with each column, and with what those beliefs leave over. */
  readonly #power = new Float64Array(TRIALS.length * (UNKNOWNS + 1));
  readonly #felt = new FeltPower();
  #looks = 0;
  #neighboursK = 0;
  #lowestC = Number.POSITIVE_INFINITY;
  #highestC = Number.NEGATIVE_INFINITY;

  constructor(before: ThermalModel | null) {
    this.#before = before;
    this.#mean =
      before === null
        ? FIRST_BELIEF.mean
        : [before.rateKPerS, before.lossPerS * SCALE, before.exchangePerS * SCALE, before.warmthKPerS];
    this.#off = before === null ? FIRST_BELIEF.off : KEPT_OFF;
  }

  /** Once a second, while the zone heats up and soaks. */
  look(trace: ZoneTrace): void {
    if (trace.seconds < WINDOW_S + LONGEST_S + 3) return;
    const nowC = trace.meanTemperature(0, 3);
    const change = nowC - trace.meanTemperature(WINDOW_S, 3);
    if (!Number.isFinite(change)) return;
    this.#lowestC = Math.min(this.#lowestC, nowC);
    this.#highestC = Math.max(this.#highestC, nowC);
    this.#looks++;
    const neighboursK = trace.meanNeighbours(1, WINDOW_S);
    this.#neighboursK += (neighboursK - this.#neighboursK) / Math.min(this.#looks, 30);
    const loss = (-WINDOW_S * (trace.meanTemperature(1, WINDOW_S) - ROOM_C)) / SCALE;
    const exchange = (WINDOW_S * neighboursK) / SCALE;
    // The unknowns are told as differences from the beliefs.
    const rest = change - loss * this.#mean[1]! - exchange * this.#mean[2]! - WINDOW_S * this.#mean[3]!;
    this.#addShared([0, loss, exchange, WINDOW_S], rest);
    let followed: readonly [number, number] | null = null;
    let at = 0;
    for (const { lagsS, deadTimeS } of TRIALS) {
      if (lagsS !== followed) this.#felt.follow(trace, lagsS[0], lagsS[1]);
      followed = lagsS;
      const power = WINDOW_S * this.#felt.mean(1 + deadTimeS, WINDOW_S);
      this.#power[at]! += power * power;
      this.#power[at + 1]! += power * loss;
      this.#power[at + 2]! += power * exchange;
      this.#power[at + 3]! += power * WINDOW_S;
      this.#power[at + UNKNOWNS]! += power * rest;
      at += UNKNOWNS + 1;
    }
  }

  #addShared(row: readonly number[], rest: number): void {
    for (let j = 1; j < UNKNOWNS; j++) {
      this.#products[j]! += row[j]! * rest;
      for (let k = 1; k <= j; k++) this.#squares[j * UNKNOWNS + k]! += row[j]! * row[k]!;
    }
    this.#rests += rest * rest;
  }

  /**
   * Of all trials the likeliest, and how far its delay may be off: a heat-up at full power whose beginning was not seen tells
   * next to nothing of dead time and lags.
   */
  #likeliest(fits: readonly Fit[]): (Fit & { delayOffS: number }) | null {
    const least = Math.min(...fits.map(({ rest }) => rest));
    const noise = Math.max((least * LOOKS_ALIKE) / this.#looks, LEAST_NOISE_K2);
    const before = this.#before;
    const meanS = before === null ? FIRST_DELAY.meanS : before.deadTimeS + before.lagS + before.secondLagS;
    const offS = before === null ? FIRST_DELAY.offS : before.delayOffS;
    const scores = fits.map(({ rest, at }) => (rest - least) / noise + ((delayOf(at) - meanS) / offS) ** 2);
    const lowest = Math.min(...scores);
    const best = fits[scores.indexOf(lowest)];
    if (best === undefined) return null;
    let weights = 0;
    let square = 0;
    for (const [i, { at }] of fits.entries()) {
      const weight = Math.exp(-(scores[i]! - lowest) / 2);
      weights += weight;
      square += weight * (delayOf(at) - delayOf(best.at)) ** 2;
    }
    const delayOffS = Math.min(
      MOST_DELAY_OFF_S,
      Math.hypot(LEAST_DELAY_OFF_S, DELAY_SIGMAS * Math.sqrt(square / weights)),
    );
    return { ...best, delayOffS };
  }

  /** The least-squares system of one trial: the lower triangle of XᵀX with the beliefs' own weight, Xᵀy, and yᵀy. */
  #system(trial: number): { squares: Float64Array; products: Float64Array; rests: number } {
    const squares = this.#squares.slice();
    const products = this.#products.slice();
    const at = trial * (UNKNOWNS + 1);
    const rate = this.#mean[0]!;
    for (let j = 0; j < UNKNOWNS; j++) {
      squares[j * UNKNOWNS] = this.#power[at + j]!;
      products[j]! -= rate * this.#power[at + j]!;
      squares[j * UNKNOWNS + j]! += LOOK_VARIANCE / this.#off[j]! ** 2;
    }
    const withPower = this.#power[at + UNKNOWNS]!;
    products[0] = withPower - rate * this.#power[at]!;
    return { squares, products, rests: this.#rests - 2 * rate * withPower + rate * rate * this.#power[at]! };
  }

  /** What the heat-up has taught; null where it was too little, or explains too little. */
  conclude(): ThermalModel | null {
    if (this.#looks < LEAST_LOOKS || this.#highestC - this.#lowestC < LEAST_RISE_K) return null;
    const fits: Fit[] = [];
    for (let at = 0; at < TRIALS.length; at++) {
      const { squares, products, rests } = this.#system(at);
      const difference = solve(squares, products);
      if (difference === null) continue;
      let explained = 0;
      for (let j = 0; j < UNKNOWNS; j++) explained += difference[j]! * products[j]!;
      fits.push({ values: difference.map((d, j) => d + this.#mean[j]!), rest: Math.max(0, rests - explained), at });
    }
    const best = this.#likeliest(fits);
    if (best === null) return null;
    const [rateKPerS = 0, loss = 0, exchange = 0, warmthKPerS = 0] = best.values;
    const fitK = Math.sqrt(best.rest / this.#looks);
    const { deadTimeS, lagsS } = TRIALS[best.at]!;
    if (!(rateKPerS > 0.1 && rateKPerS < 5) || fitK > WORST_FIT_K) return null;
    return {
      rateKPerS,
      lossPerS: Math.max(0, loss) / SCALE,
      exchangePerS: Math.max(0, exchange) / SCALE,
      warmthKPerS,
      deadTimeS,
      lagS: lagsS[0],
      secondLagS: lagsS[1],
      delayOffS: best.delayOffS,
      neighboursK: this.#neighboursK,
      fitK,
      heatUps: (this.#before?.heatUps ?? 0) + 1,
    };
  }
}

function delayOf(trial: number): number {
  const { deadTimeS, lagsS } = TRIALS[trial]!;
  return deadTimeS + lagsS[0] + lagsS[1];
}

/** Symmetric positive definite system by Cholesky's method; the lower triangle is given. Null where it is not definite. */
function solve(lower: Float64Array, right: Float64Array): number[] | null {
  const n = right.length;
  const l = new Float64Array(n * n);
  for (let i = 0; i < n; i++)
    for (let j = 0; j <= i; j++) {
      let sum = lower[i * n + j]!;
      for (let k = 0; k < j; k++) sum -= l[i * n + k]! * l[j * n + k]!;
      if (i !== j) l[i * n + j] = sum / l[j * n + j]!;
      else if (sum > 0) l[i * n + i] = Math.sqrt(sum);
      else return null;
    }
  const x = Array.from(right);
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < i; k++) x[i]! -= l[i * n + k]! * x[k]!;
    x[i]! /= l[i * n + i]!;
  }
  for (let i = n - 1; i >= 0; i--) {
    for (let k = i + 1; k < n; k++) x[i]! -= l[k * n + i]! * x[k]!;
    x[i]! /= l[i * n + i]!;
  }
  return x;
}
