export interface EwmaOptions {
  readonly target: number;
  readonly sigma: number;
  /** Weight of the newest value, above 0 to 1; 0.2 to 0.3 is usual (NIST/SEMATECH e-Handbook 6.3.2.4). */
  readonly lambda: number;
}

/** Limits at this many standard deviations of the average. */
const SIGMAS = 3;

export interface EwmaChart {
  /** One per value; a gap (NaN) leaves the average unchanged. */
  readonly averages: Float64Array;
  readonly upper: Float64Array;
  readonly lower: Float64Array;
  readonly beyond: readonly number[];
}

/**
 * Exponentially weighted moving average: z_i = λx_i + (1 − λ)z_{i−1} from z_0 = target; limits target ±
 * 3σ√(λ/(2 − λ) · (1 − (1 − λ)^{2i})), narrower for the first values (NIST/SEMATECH e-Handbook 6.3.2.4).
 */
export function ewmaChart(values: ArrayLike<number>, options: EwmaOptions): EwmaChart {
  const { target, sigma, lambda } = options;
  if (!(lambda > 0 && lambda <= 1))
    throw new RangeError(`the weight of an EWMA must be above 0 and at most 1, not ${lambda}`);
  const averages = new Float64Array(values.length);
  const upper = new Float64Array(values.length);
  const lower = new Float64Array(values.length);
  const beyond: number[] = [];
  const final = SIGMAS * sigma * Math.sqrt(lambda / (2 - lambda));
  let average = target;
  let forgotten = 1;
  for (let i = 0; i < values.length; i++) {
    if (Number.isFinite(values[i]!)) {
      average = lambda * values[i]! + (1 - lambda) * average;
      forgotten *= (1 - lambda) ** 2;
    }
    const half = final * Math.sqrt(1 - forgotten);
    averages[i] = average;
    upper[i] = target + half;
    lower[i] = target - half;
    if (average > upper[i]! || average < lower[i]!) beyond.push(i);
  }
  return { averages, upper, lower, beyond };
}
