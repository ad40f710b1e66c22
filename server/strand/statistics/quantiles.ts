const BINS = 4096;
const SMALL = 2048;
const NONE = 65_535;

/**
 * Weighted quantiles. A share that falls between two samples gives the mean of both (type 2 of Hyndman & Fan 1996, The
 * American Statistician 50(4)), so the median of an even count is the usual one.
 *
 * Exact without sorting everything: samples are counted into bins, and only the bin that holds the answer is refined.
 *
 * @param shares each from 0 to 1
 * @param weights length that each value represents; without them all count alike
 * @returns one value per share; NaN where nothing was measured
 */
export function quantiles<const Shares extends readonly number[]>(
  values: ArrayLike<number>,
  shares: Shares,
  weights?: ArrayLike<number>,
): { readonly [Index in keyof Shares]: number };
export function quantiles(
  values: ArrayLike<number>,
  shares: readonly number[],
  weights?: ArrayLike<number>,
): readonly number[] {
  for (const share of shares) {
    if (!(share >= 0 && share <= 1)) throw new RangeError(`a share must be between 0 and 1, not ${share}`);
  }
  const bins = new Binned(values, weights);
  const total = bins.total;
  if (!(total > 0)) return shares.map(() => Number.NaN);
  // Sums of weights have rounding errors, so "exactly between two samples" needs a small margin.
  const margin = total * 1e-12;
  return shares.map((share) => {
    const goal = share * total;
    return (bins.valueAt(goal - margin) + bins.valueAt(goal + margin)) / 2;
  });
}

/** Samples counted into bins of equal width; a bin is refined only when needed. */
class Binned {
  /** Sum of the weights of all samples that count. */
  readonly total: number;
  readonly #values: ArrayLike<number>;
  readonly #weights: ArrayLike<number> | undefined;
  readonly #min: number;
  readonly #binWeight: Float64Array;
  /** Bin of each sample, for quick refining; NONE for a sample that does not count. */
  readonly #binOf: Uint16Array;
  readonly #refined = new Map<number, Binned>();
  #sorted: readonly number[] | undefined;

  constructor(values: ArrayLike<number>, weights: ArrayLike<number> | undefined) {
    this.#values = values;
    this.#weights = weights;
    const n = values.length;
    let min = Number.POSITIVE_INFINITY;
    let max = Number.NEGATIVE_INFINITY;
    let total = 0;
    for (let i = 0; i < n; i++) {
      const value = values[i]!;
      const weight = weights === undefined ? 1 : weights[i]!;
      if (!Number.isFinite(value) || !(weight > 0)) continue;
      total += weight;
      if (value < min) min = value;
      if (value > max) max = value;
    }
    this.total = total;
    this.#min = min;
    const scale = (BINS - 1) / (max - min);
    // Equal values have no scale.
    const binned = n > SMALL && Number.isFinite(scale);
    this.#binWeight = new Float64Array(binned ? BINS : 0);
    this.#binOf = new Uint16Array(binned ? n : 0);
    if (!binned) return;
    for (let i = 0; i < n; i++) {
      const value = values[i]!;
      const weight = weights === undefined ? 1 : weights[i]!;
      if (!Number.isFinite(value) || !(weight > 0)) {
        this.#binOf[i] = NONE;
        continue;
      }
      const bin = Math.floor((value - min) * scale);
      this.#binOf[i] = bin;
      this.#binWeight[bin]! += weight;
    }
  }

  /** Smallest value whose running weight reaches `goal`. */
  valueAt(goal: number): number {
    if (this.#binOf.length === 0) return this.#walk(goal);
    let before = 0;
    let last = 0;
    for (let bin = 0; bin < BINS; bin++) {
      const weight = this.#binWeight[bin]!;
      if (weight === 0) continue;
      last = bin;
      if (before + weight >= goal) break;
      before += weight;
    }
    // Rounding may carry the goal past the last sample; the last one is then meant.
    return this.#refine(last).valueAt(goal - before);
  }

  #refine(bin: number): Binned {
    let refined = this.#refined.get(bin);
    if (refined === undefined) {
      const value: number[] = [];
      const weight: number[] = [];
      for (let i = 0; i < this.#binOf.length; i++) {
        if (this.#binOf[i] !== bin) continue;
        value.push(this.#values[i]!);
        weight.push(this.#weights === undefined ? 1 : this.#weights[i]!);
      }
      refined = new Binned(value, weight);
      this.#refined.set(bin, refined);
    }
    return refined;
  }

  #walk(goal: number): number {
    const weightOf = (i: number): number => (this.#weights === undefined ? 1 : this.#weights[i]!);
    this.#sorted ??= Array.from({ length: this.#values.length }, (_, i) => i)
      .filter((i) => Number.isFinite(this.#values[i]!) && weightOf(i) > 0)
      .sort((a, b) => this.#values[a]! - this.#values[b]!);
    let running = 0;
    let value = this.#min;
    for (const index of this.#sorted) {
      running += weightOf(index);
      value = this.#values[index]!;
      if (running >= goal) break;
    }
    return value;
  }
}
