import { FeltPower } from './felt-power.ts';
import { ROOM_C } from './healthy-zone.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { ZoneTrace } from './zone-trace.ts';

/** A change is looked at over so many seconds. */
const WINDOW_S = 12;
/** Dead times and lags that are tried, s. */
const DEAD_TIMES_S = [0, 2, 4, 6, 8, 11, 14, 18] as const;
const LAGS_S = [0, 3, 6, 10, 15] as const;
const LONGEST_S = 18;
const TRIALS = LAGS_S.flatMap((lagS) => DEAD_TIMES_S.map((deadTimeS) => ({ lagS, deadTimeS })));
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
/** How far what earlier evenings have taught may have changed by the next one. */
const KEPT_OFF = [0.1, 0.03, 0.03, 0.015] as const;

/**
 * Learns a zone's model from one heat-up, by least squares on changes over 12 s, for each of several dead times and lags;
 * the pair that explains most wins. What was learnt before is the belief to begin with.
 */
export class ModelLearning {
  readonly #before: ThermalModel | null;
  readonly #mean: readonly number[];
  /** One a trial: the lower triangle of XᵀX, and Xᵀy. */
  readonly #squares = TRIALS.map(() => new Float64Array(UNKNOWNS * UNKNOWNS));
  readonly #products = TRIALS.map(() => new Float64Array(UNKNOWNS));
  /** What the beliefs leave over, squared and summed. */
  readonly #rests = new Float64Array(TRIALS.length);
  readonly #row = new Float64Array(UNKNOWNS);
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
    const off = before === null ? FIRST_BELIEF.off : KEPT_OFF;
    for (const squares of this.#squares)
      off.forEach((size, j) => {
        squares[j * UNKNOWNS + j] = LOOK_VARIANCE / size ** 2;
      });
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
    const row = this.#row;
    row[1] = (-WINDOW_S * (trace.meanTemperature(1, WINDOW_S) - ROOM_C)) / SCALE;
    row[2] = (WINDOW_S * trace.meanNeighbours(1, WINDOW_S)) / SCALE;
    row[3] = WINDOW_S;
    this.#neighboursK += (trace.meanNeighbours(1, WINDOW_S) - this.#neighboursK) / Math.min(this.#looks, 30);
    let lag = Number.NaN;
    for (const [at, { lagS, deadTimeS }] of TRIALS.entries()) {
      if (lagS !== lag) this.#felt.follow(trace, lagS);
      lag = lagS;
      row[0] = WINDOW_S * this.#felt.mean(1 + deadTimeS, WINDOW_S);
      // What the beliefs leave over: the unknowns are told as differences from them.
      let rest = change;
      for (let j = 0; j < UNKNOWNS; j++) rest -= row[j]! * this.#mean[j]!;
      const squares = this.#squares[at]!;
      const products = this.#products[at]!;
      for (let j = 0; j < UNKNOWNS; j++) {
        products[j]! += row[j]! * rest;
        for (let k = 0; k <= j; k++) squares[j * UNKNOWNS + k]! += row[j]! * row[k]!;
      }
      this.#rests[at]! += rest * rest;
    }
  }

  /** What the heat-up has taught; null where it was too little, or explains too little. */
  conclude(): ThermalModel | null {
    if (this.#looks < LEAST_LOOKS || this.#highestC - this.#lowestC < LEAST_RISE_K) return null;
    let best: { values: number[]; rest: number; lagS: number; deadTimeS: number } | null = null;
    for (const [at, { lagS, deadTimeS }] of TRIALS.entries()) {
      const difference = solve(this.#squares[at]!, this.#products[at]!);
      if (difference === null) continue;
      let explained = 0;
      for (let j = 0; j < UNKNOWNS; j++) explained += difference[j]! * this.#products[at]![j]!;
      const rest = Math.max(0, this.#rests[at]! - explained);
      if (best === null || rest < best.rest)
        best = { values: difference.map((d, j) => d + this.#mean[j]!), rest, lagS, deadTimeS };
    }
    if (best === null) return null;
    const [rateKPerS = 0, loss = 0, exchange = 0, warmthKPerS = 0] = best.values;
    const fitK = Math.sqrt(best.rest / this.#looks);
    if (!(rateKPerS > 0.1 && rateKPerS < 5) || fitK > WORST_FIT_K) return null;
    return {
      rateKPerS,
      lossPerS: Math.max(0, loss) / SCALE,
      exchangePerS: Math.max(0, exchange) / SCALE,
      warmthKPerS,
      deadTimeS: best.deadTimeS,
      lagS: best.lagS,
      neighboursK: this.#neighboursK,
      fitK,
      heatUps: (this.#before?.heatUps ?? 0) + 1,
    };
  }
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
