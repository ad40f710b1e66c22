/**
 * Mean and spread of a quantity along the strand; every sample is weighted with the length of strand it represents.
 *
 * Updated sample by sample without cancellation (Welford 1962; weighted form West 1979, Comm. ACM 22(9); merging by
 * Chan, Golub & LeVeque 1979), so ten million values of some millimetres, a
 * micrometre apart, keep all their digits.
 */
export class WeightedMoments {
  #count = 0;
  #weight = 0;
  #mean = 0;
  #sumSquares = 0;
  #min = Number.POSITIVE_INFINITY;
  #max = Number.NEGATIVE_INFINITY;

  /** Values that are not finite are gaps and do not count. Throws RangeError for a negative weight. */
  add(value: number, weight = 1): void {
    if (weight < 0) throw new RangeError(`a sample cannot have a weight of ${weight}`);
    if (!Number.isFinite(value) || !(weight > 0)) return;
    this.#count += 1;
    this.#weight += weight;
    const delta = value - this.#mean;
    this.#mean += (delta * weight) / this.#weight;
    this.#sumSquares += weight * delta * (value - this.#mean);
    if (value < this.#min) this.#min = value;
    if (value > this.#max) this.#max = value;
  }

  /** Adds the samples of another instance. */
  merge(other: WeightedMoments): void {
    if (other.#count === 0) return;
    const weight = this.#weight + other.#weight;
    const delta = other.#mean - this.#mean;
    this.#sumSquares += other.#sumSquares + (delta * delta * this.#weight * other.#weight) / weight;
    this.#mean += (delta * other.#weight) / weight;
    this.#weight = weight;
    this.#count += other.#count;
    this.#min = Math.min(this.#min, other.#min);
    this.#max = Math.max(this.#max, other.#max);
  }

  get count(): number {
    return this.#count;
  }

  /** Sum of the weights: the measured length, where weights are lengths. */
  get weight(): number {
    return this.#weight;
  }

  /** NaN before the first sample, as are `min` and `max`. */
  get mean(): number {
    return this.#count === 0 ? Number.NaN : this.#mean;
  }

  /** Sample standard deviation: Σw(x − m)²/Σw · n/(n − 1), which is the usual one for equal weights. NaN below two. */
  get sd(): number {
    if (this.#count < 2) return Number.NaN;
    return Math.sqrt((this.#sumSquares / this.#weight) * (this.#count / (this.#count - 1)));
  }

  get min(): number {
    return this.#count === 0 ? Number.NaN : this.#min;
  }

  get max(): number {
    return this.#count === 0 ? Number.NaN : this.#max;
  }
}

/** Moments of a whole series; without `weights` all samples count alike. */
export function momentsOf(values: ArrayLike<number>, weights?: ArrayLike<number>): WeightedMoments {
  const moments = new WeightedMoments();
  for (let i = 0; i < values.length; i++) moments.add(values[i]!, weights === undefined ? 1 : weights[i]!);
  return moments;
}
