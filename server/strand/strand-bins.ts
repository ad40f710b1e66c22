/** One trace as parallel columns, newest strand first; null = a gap. `x` is metres from the gauge, ascending. */
export interface StrandTrace {
  readonly x: number[];
  readonly min: (number | null)[];
  readonly max: (number | null)[];
  readonly mean: (number | null)[];
}

export function emptyTrace(): StrandTrace {
  return { x: [], min: [], max: [], mean: [] };
}

/**
 * The newest strand in equal bins that are fixed to the strand (bin = floor(gauge length / width)). So the picture slides
 * without shimmering, and no peak is lost: each bin keeps its true minimum and maximum.
 */
export class StrandBins {
  readonly binMm: number;
  readonly capacity: number;
  readonly #min: Float64Array;
  readonly #max: Float64Array;
  readonly #sum: Float64Array;
  readonly #n: Uint32Array;
  #newest = Number.NEGATIVE_INFINITY;

  constructor(binMm: number, capacity: number) {
    this.binMm = binMm;
    this.capacity = capacity;
    this.#min = new Float64Array(capacity);
    this.#max = new Float64Array(capacity);
    this.#sum = new Float64Array(capacity);
    this.#n = new Uint32Array(capacity);
  }

  clear(): void {
    this.#n.fill(0);
    this.#newest = Number.NEGATIVE_INFINITY;
  }

  /** One reading: gauge length and diameter in mm. A diameter of null adds nothing, and so leaves a gap. */
  add(gaugeMm: number, diameterMm: number | null): void {
    if (diameterMm !== null) this.addColumn(gaugeMm, diameterMm, diameterMm, diameterMm, 1);
  }

  /** As many gauge lengths as diameters. */
  addReadings(gaugeMm: readonly number[], diameterMm: readonly (number | null)[]): void {
    for (let i = 0; i < gaugeMm.length; i += 1) this.add(gaugeMm[i]!, diameterMm[i] ?? null);
  }

  /** Adds one column of a window to its bin. Extremes stay true, the mean is weighted. */
  addColumn(gaugeMm: number, min: number, max: number, mean: number, count: number): void {
    const bin = Math.floor(gaugeMm / this.binMm);
    if (bin > this.#newest) this.#advance(bin);
    if (bin <= this.#newest - this.capacity) return;
    const i = this.#slot(bin);
    if (this.#n[i] === 0) {
      this.#min[i] = min;
      this.#max[i] = max;
      this.#sum[i] = mean * count;
      this.#n[i] = count;
    } else {
      this.#min[i] = Math.min(this.#min[i]!, min);
      this.#max[i] = Math.max(this.#max[i]!, max);
      this.#sum[i]! += mean * count;
      this.#n[i]! += count;
    }
  }

  /** Takes over the values of other bins of the same strand, as far as they fit. A wider bin fills one of these. */
  join(other: StrandBins): void {
    if (!Number.isFinite(other.#newest)) return;
    for (let bin = other.#newest - other.capacity + 1; bin <= other.#newest; bin += 1) {
      const i = other.#slot(bin);
      const n = other.#n[i]!;
      if (n > 0) this.addColumn((bin + 0.5) * other.binMm, other.#min[i]!, other.#max[i]!, other.#sum[i]! / n, n);
    }
  }

  /**
   * The strand from the gauge on, as a trace. A distance of more than `gapMm` without a value is a gap.
   * The arrays of `out` are reused, so that drawing every frame makes no garbage.
   */
  trace(headMm: number, spanMm: number, gapMm: number, out: StrandTrace): StrandTrace {
    const { x, min, max, mean } = out;
    x.length = min.length = max.length = mean.length = 0;
    const first = Math.min(Math.floor(headMm / this.binMm), this.#newest);
    const last = Math.max(Math.floor((headMm - spanMm) / this.binMm), this.#newest - this.capacity + 1);
    let before = Number.NaN;
    for (let bin = first; bin >= last; bin -= 1) {
      const i = this.#slot(bin);
      const n = this.#n[i]!;
      if (n === 0) continue;
      // The bin at the gauge is still being filled. Its middle may be ahead of the head.
      const at = Math.max(0, headMm - (bin + 0.5) * this.binMm) / 1000;
      if (at - before > gapMm / 1000) {
        x.push((at + before) / 2);
        min.push(null);
        max.push(null);
        mean.push(null);
      }
      x.push(at);
      min.push(this.#min[i]!);
      max.push(this.#max[i]!);
      mean.push(this.#sum[i]! / n);
      before = at;
    }
    return out;
  }

  #slot(bin: number): number {
    return ((bin % this.capacity) + this.capacity) % this.capacity;
  }

  #advance(bin: number): void {
    const from = Math.max(this.#newest + 1, bin - this.capacity + 1);
    if (Number.isFinite(from)) for (let b = from; b <= bin; b += 1) this.#n[this.#slot(b)] = 0;
    else this.#n.fill(0);
    this.#newest = bin;
  }
}
