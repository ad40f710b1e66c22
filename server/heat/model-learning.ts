import { ROOM_C } from './healthy-zone.ts';
import { LaggedPower } from './lagged-power.ts';
import { solve } from './least-squares.ts';
import type { ThermalModel } from './thermal-model.ts';
import type { TraceView } from './zone-trace.ts';

/** Changes are measured over this time, s. */
const WINDOW_S = 12;
/** Dead times and pairs of lags that are tried, s. */
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
  [25, 3],
  [25, 10],
  [40, 3],
  [40, 10],
  [40, 25],
  [60, 5],
  [60, 15],
  [60, 30],
] as const;
const LONGEST_S = 18;
const TRIALS = LAGS_S.flatMap((lagsS) =>
  DEAD_TIMES_S.map((deadTimeS) => ({ lagsS, deadTimeS, delayS: deadTimeS + lagsS[0] + lagsS[1] })),
);
type Trial = (typeof TRIALS)[number];
/** A heat-up with a smaller rise is not learnt from, K. */
const LEAST_RISE_K = 60;
/** Nor is one with fewer samples. */
const LEAST_SAMPLES = 60;
/** No working heater causes so slow a rise at full power, K/s. */
const LEAST_RATE_K_PER_S = 0.05;
/** A model with a larger residual is rejected, K. */
const WORST_FIT_K = 1.5;

/** Unknowns: rate, loss × 100, exchange × 100 and warmth, scaled so that all are of the order of one. */
const UNKNOWNS = 4;
const WARMTH = 3;
type Unknowns = readonly [rate: number, loss: number, exchange: number, warmth: number];
const SCALE = 100;
/** Variance of one sample, against which the prior is weighed, K². */
const SAMPLE_VARIANCE_K2 = 0.1;
/** Prior before anything was learnt (common practice, no source), and the possible error of each value. */
const FIRST_PRIOR = { mean: [0.7, 0.15, 0.06, 0], off: [0.7, 0.2, 0.06, 0.02] } as const;
/** Prior of dead time and lags together (common practice, no source), and its possible error, s. */
const FIRST_DELAY = { meanS: 13, offS: 8 } as const;
/**
 * A slow zone heats up at full power almost all the time, which tells rate and warmth apart badly: its loss is so small that the
 * room's temperature can hardly matter. Its response also takes longer.
 */
const SLOW = { rateKPerS: 0.3, warmthOff: 0.003, delay: { meanS: 45, offS: 25 } } as const;
/** Overlapping samples repeat the same information: this many count as one. */
const SAMPLES_PER_INDEPENDENT = 20;
/** Bounds of the possible error of the delay, s: a real zone has more lags than the model. */
const LEAST_DELAY_OFF_S = 3;
const MOST_DELAY_OFF_S = 12;
/** Possible change of each value between one evening and the next. */
const KEPT_OFF = [0.1, 0.03, 0.03, 0.015] as const;

/** Least variance of any sensor, K². */
const LEAST_NOISE_K2 = 0.002;
const DELAY_SIGMAS = 1.5;

type FirstDelay = typeof FIRST_DELAY | typeof SLOW.delay;

interface Fit {
  readonly trial: Trial;
  readonly values: Unknowns;
  /** Sum of squared residuals, K². */
  readonly residualK2: number;
}

/**
 * Learns a zone's model from one heat-up: least squares on changes over 12 s, for each of several dead times and lags, of which
 * the likeliest is taken. The model learnt before is the prior.
 */
export class ModelLearning {
  readonly #before: ThermalModel | null;
  /** Prior, and the possible error of each of its values. */
  readonly #mean: Unknowns;
  readonly #off: Unknowns;
  /** Independent of dead time and lags: products of the other columns with each other, and with the prior's residual. */
  readonly #squares = new Float64Array(UNKNOWNS * UNKNOWNS);
  readonly #products = new Float64Array(UNKNOWNS);
  /** Sum of the squared residuals of the prior, power left out, K². */
  #residualsK2 = 0;
  /** One row per trial: products of the lagged power with each column, and with the prior's residual. */
  readonly #power = new Float64Array(TRIALS.length * (UNKNOWNS + 1));
  readonly #lagged = new LaggedPower();
  #samples = 0;
  #neighboursK = 0;
  #lowestC = Number.POSITIVE_INFINITY;
  #highestC = Number.NEGATIVE_INFINITY;

  constructor(before: ThermalModel | null) {
    this.#before = before;
    this.#mean =
      before === null
        ? FIRST_PRIOR.mean
        : [before.rateKPerS, before.lossPerS * SCALE, before.exchangePerS * SCALE, before.warmthKPerS];
    this.#off = before === null ? FIRST_PRIOR.off : KEPT_OFF;
  }

  /** Call once a second while the zone heats up and soaks. */
  add(trace: TraceView): void {
    if (trace.seconds < WINDOW_S + LONGEST_S + 3) return;
    const nowC = trace.meanTemperature(0, 3);
    const change = nowC - trace.meanTemperature(WINDOW_S, 3);
    if (!Number.isFinite(change)) return;
    this.#lowestC = Math.min(this.#lowestC, nowC);
    this.#highestC = Math.max(this.#highestC, nowC);
    this.#samples++;
    const neighboursK = trace.meanNeighbours(1, WINDOW_S);
    this.#neighboursK += (neighboursK - this.#neighboursK) / Math.min(this.#samples, 30);
    const loss = (-WINDOW_S * (trace.meanTemperature(1, WINDOW_S) - ROOM_C)) / SCALE;
    const exchange = (WINDOW_S * neighboursK) / SCALE;
    // The unknowns are differences from the prior.
    const residual = change - loss * this.#mean[1] - exchange * this.#mean[2] - WINDOW_S * this.#mean[3];
    this.#addShared([0, loss, exchange, WINDOW_S], residual);
    let at = 0;
    // In the order of the trials.
    for (const [lagS, secondLagS] of LAGS_S) {
      this.#lagged.follow(trace, lagS, secondLagS);
      for (const deadTimeS of DEAD_TIMES_S) {
        const power = WINDOW_S * this.#lagged.mean(1 + deadTimeS, WINDOW_S);
        this.#power[at]! += power * power;
        this.#power[at + 1]! += power * loss;
        this.#power[at + 2]! += power * exchange;
        this.#power[at + 3]! += power * WINDOW_S;
        this.#power[at + UNKNOWNS]! += power * residual;
        at += UNKNOWNS + 1;
      }
    }
  }

  #addShared(row: Unknowns, residual: number): void {
    for (let j = 1; j < UNKNOWNS; j++) {
      this.#products[j]! += row[j]! * residual;
      for (let k = 1; k <= j; k++) this.#squares[j * UNKNOWNS + k]! += row[j]! * row[k]!;
    }
    this.#residualsK2 += residual * residual;
  }

  /**
   * The likeliest fit, and the possible error of its delay: a heat-up at full power whose start was not seen says almost
   * nothing about dead time and lags. Null = no fits.
   */
  #likeliest(fits: readonly Fit[], firstDelay: FirstDelay): (Fit & { readonly delayOffS: number }) | null {
    const least = Math.min(...fits.map(({ residualK2 }) => residualK2));
    const noiseK2 = Math.max((least * SAMPLES_PER_INDEPENDENT) / this.#samples, LEAST_NOISE_K2);
    const before = this.#before;
    const meanS = before === null ? firstDelay.meanS : before.deadTimeS + before.lagS + before.secondLagS;
    const offS = before === null ? firstDelay.offS : before.delayOffS;
    const score = ({ residualK2, trial }: Fit) => (residualK2 - least) / noiseK2 + ((trial.delayS - meanS) / offS) ** 2;
    const [best] = fits.toSorted((a, b) => score(a) - score(b));
    if (best === undefined) return null;
    let weights = 0;
    let square = 0;
    for (const fit of fits) {
      const weight = Math.exp((score(best) - score(fit)) / 2);
      weights += weight;
      square += weight * (fit.trial.delayS - best.trial.delayS) ** 2;
    }
    const delayOffS = Math.min(
      MOST_DELAY_OFF_S,
      Math.hypot(LEAST_DELAY_OFF_S, DELAY_SIGMAS * Math.sqrt(square / weights)),
    );
    return { ...best, delayOffS };
  }

  /** The least-squares system of one trial: lower triangle of XᵀX with the prior's weight, Xᵀy, and yᵀy. */
  #system(
    trial: number,
    warmthOff: number | null,
  ): { squares: Float64Array; products: Float64Array; residualsK2: number } {
    const squares = this.#squares.slice();
    const products = this.#products.slice();
    const at = trial * (UNKNOWNS + 1);
    const rate = this.#mean[0];
    for (const [j, off] of this.#off.entries()) {
      squares[j * UNKNOWNS] = this.#power[at + j]!;
      products[j]! -= rate * this.#power[at + j]!;
      squares[j * UNKNOWNS + j]! += SAMPLE_VARIANCE_K2 / off ** 2;
    }
    if (warmthOff !== null)
      squares[WARMTH * UNKNOWNS + WARMTH]! += (SAMPLES_PER_INDEPENDENT * SAMPLE_VARIANCE_K2) / warmthOff ** 2;
    const withPower = this.#power[at + UNKNOWNS]!;
    products[0] = withPower - rate * this.#power[at]!;
    const residualsK2 = this.#residualsK2 - 2 * rate * withPower + rate * rate * this.#power[at]!;
    return { squares, products, residualsK2 };
  }

  /** The model learnt from the heat-up; null where there was too little to learn from, or the model fits badly. */
  conclude(): ThermalModel | null {
    if (this.#samples < LEAST_SAMPLES || this.#highestC - this.#lowestC < LEAST_RISE_K) return null;
    const usual = this.#likeliest(this.#fits(null), FIRST_DELAY);
    const isSlow = usual !== null && usual.values[0] < SLOW.rateKPerS;
    const best = isSlow ? this.#likeliest(this.#fits(SLOW.warmthOff), SLOW.delay) : usual;
    if (best === null) return null;
    const [rateKPerS, loss, exchange, warmthKPerS] = best.values;
    const fitK = Math.sqrt(best.residualK2 / this.#samples);
    const { deadTimeS, lagsS } = best.trial;
    if (!(rateKPerS > LEAST_RATE_K_PER_S && rateKPerS < 5) || fitK > WORST_FIT_K) return null;
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

  /** `warmthOff`: how far the warmth can be from its prior, K/s; null = as the prior says. */
  #fits(warmthOff: number | null): Fit[] {
    const fits: Fit[] = [];
    for (const [at, trial] of TRIALS.entries()) {
      const { squares, products, residualsK2 } = this.#system(at, warmthOff);
      const difference = solve(squares, products);
      if (difference === null) continue;
      const explained = difference.reduce((sum, d, j) => sum + d * products[j]!, 0);
      const [rate, loss, exchange, warmth] = this.#mean;
      const [dRate = 0, dLoss = 0, dExchange = 0, dWarmth = 0] = difference;
      const values = [rate + dRate, loss + dLoss, exchange + dExchange, warmth + dWarmth] as const;
      fits.push({ trial, values, residualK2: Math.max(0, residualsK2 - explained) });
    }
    return fits;
  }
}
