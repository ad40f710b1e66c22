export interface EwmaOptions {
  readonly target: number;
  readonly sigma: number;
  /** Weight of the newest value, above 0 to 1; 0.2 to 0.3 is usual (NIST/SEMATECH e-Handbook 6.3.2.4). */
  readonly lambda: number;
  /** Limits at this many standard deviations of the average; 3 unless given. */
  readonly width?: number;
  /** `final`: the limits that the chart settles at; `exact`: narrower ones for the first values. */
  readonly limits?: 'final' | 'exact';
}

export interface EwmaChart {
  /** One a value; a gap (NaN) keeps the average as it was. */
  readonly averages: Float64Array;
  readonly upper: Float64Array;
  readonly lower: Float64Array;
  readonly beyond: readonly number[];
}

/**
 * Exponentially weighted moving average: z_i = λx_i + (1 − λ)z_{i−1} from z_0 = target; limits target ± kσ√(λ/(2 − λ)),
 * exact ones with the factor √(1 − (1 − λ)^{2i}) (NIST/SEMATECH e-Handbook 6.3.2.4).
 */
export function ewmaChart(values: ArrayLike<number>, options: EwmaOptions): EwmaChart {
  const { target, sigma, lambda, width = 3, limits = 'final' } = options;
  if (!(lambda > 0 && lambda <= 1))
    throw new RangeError(`the weight of an EWMA lies above 0 and up to 1, not at ${lambda}`);
  const averages = new Float64Array(values.length);
  const upper = new Float64Array(values.length);
  const lower = new Float64Array(values.length);
  const beyond: number[] = [];
  const final = width * sigma * Math.sqrt(lambda / (2 - lambda));
  let average = target;
  let forgotten = 1;
  for (let i = 0; i < values.length; i++) {
    if (Number.isFinite(values[i]!)) {
      average = lambda * values[i]! + (1 - lambda) * average;
      forgotten *= (1 - lambda) ** 2;
    }
    const half = limits === 'exact' ? final * Math.sqrt(1 - forgotten) : final;
    averages[i] = average;
    upper[i] = target + half;
    lower[i] = target - half;
    if (average > upper[i]! || average < lower[i]!) beyond.push(i);
  }
  return { averages, upper, lower, beyond };
}
