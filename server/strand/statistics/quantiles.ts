const BINS = 4096;
const SMALL = 2048;

/**
 * The values below which the given shares of the length lie. A share that falls between two samples gives the mean of
 * both (type 2 of Hyndman & Fan 1996, The American Statistician 50(4)), so the median of an even count is the usual one.
 *
 * Exact, without sorting everything: the samples are counted into bins and only the bin that holds the answer is looked
 * into again.
 *
 * @param shares each from 0 to 1
 * @param weights length that each value stands for; without them all count alike
 * @returns one value a share; NaN where nothing was measured
 */
export function quantiles(
  values: ArrayLike<number>,
  shares: readonly number[],
  weights?: ArrayLike<number>,
): readonly number[] {
  for (const share of shares) {
    if (!(share >= 0 && share <= 1)) throw new RangeError(`a share lies between 0 and 1, not at ${share}`);
  }
  let members = 0;
  const value = new Float64Array(values.length);
  const weight = new Float64Array(values.length);
  let total = 0;
  for (let i = 0; i < values.length; i++) {
    const w = weights === undefined ? 1 : weights[i]!;
    if (!Number.isFinite(values[i]!) || !(w > 0)) continue;
    value[members] = values[i]!;
    weight[members++] = w;
    total += w;
  }
  if (members === 0) return shares.map(() => Number.NaN);
  const bin = new Binned(value.subarray(0, members), weight.subarray(0, members));
  return shares.map((share) => {
    const goal = share * total;
    // The sums of the weights carry rounding errors, so "exactly between two samples" needs a hair's breadth.
    const hair = total * 1e-12;
    return (bin.valueAt(goal - hair) + bin.valueAt(goal + hair)) / 2;
  });
}

/** Samples counted into bins of equal width, each bin refined only when it is asked for. */
class Binned {
  readonly #value: Float64Array;
  readonly #weight: Float64Array;
  readonly #min: number;
  readonly #scale: number;
  readonly #binWeight: Float64Array;
  /** Bin of each sample, so that looking into a bin again is one quick pass. */
  readonly #binOf: Uint16Array;
  readonly #refined = new Map<number, Binned>();
  #sorted: readonly number[] | undefined;

  constructor(value: Float64Array, weight: Float64Array) {
    this.#value = value;
    this.#weight = weight;
    let min = Number.POSITIVE_INFINITY;
    let max = Number.NEGATIVE_INFINITY;
    for (const v of value) {
      if (v < min) min = v;
      if (v > max) max = v;
    }
    this.#min = min;
    this.#scale = max > min ? (BINS - 1) / (max - min) : 0;
    const binned = value.length > SMALL && this.#scale > 0 && Number.isFinite(this.#scale);
    this.#binWeight = new Float64Array(binned ? BINS : 0);
    this.#binOf = new Uint16Array(binned ? value.length : 0);
    for (let i = 0; i < this.#binOf.length; i++) {
      const bin = Math.floor((value[i]! - min) * this.#scale);
      this.#binOf[i] = bin;
      this.#binWeight[bin]! += weight[i]!;
    }
  }

  /** Smallest value whose running weight reaches `goal`. */
  valueAt(goal: number): number {
    if (this.#scale === 0 || !Number.isFinite(this.#scale)) return this.#min;
    if (this.#value.length <= SMALL) return this.#walk(goal);
    let before = 0;
    let bin = 0;
    let last = 0;
    for (; bin < BINS; bin++) {
      if (this.#binWeight[bin] === 0) continue;
      last = bin;
      if (before + this.#binWeight[bin]! >= goal) break;
      before += this.#binWeight[bin]!;
    }
    return this.#refine(Math.min(bin, last)).valueAt(goal - before);
  }

  #refine(bin: number): Binned {
    let refined = this.#refined.get(bin);
    if (refined === undefined) {
      const value: number[] = [];
      const weight: number[] = [];
      for (let i = 0; i < this.#binOf.length; i++) {
        if (this.#binOf[i] !== bin) continue;
        value.push(this.#value[i]!);
        weight.push(this.#weight[i]!);
      }
      refined = new Binned(Float64Array.from(value), Float64Array.from(weight));
      this.#refined.set(bin, refined);
    }
    return refined;
  }

  #walk(goal: number): number {
    this.#sorted ??= Array.from(this.#value.keys()).sort((a, b) => this.#value[a]! - this.#value[b]!);
    let running = 0;
    for (const index of this.#sorted) {
      running += this.#weight[index]!;
      if (running >= goal) return this.#value[index]!;
    }
    return this.#value[this.#sorted[this.#sorted.length - 1]!]!;
  }
}
