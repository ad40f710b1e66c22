/** The readings of a spool and of some strand before and behind it: parallel arrays, one entry a reading, NaN = no value. */
export interface SpoolColumns {
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly diameterMm: Float64Array;
  /** Two axes; null with a gauge of one. */
  readonly axesMm: { readonly x: Float64Array; readonly y: Float64Array } | null;
}

type Column = 'timeMs' | 'gaugeMm' | 'diameterMm' | 'x' | 'y';

/** Columns of a spool that is still being wound: more readings are added behind. */
export class GrowingColumns {
  readonly #held: Partial<Record<Column, Float64Array>> = {};
  #length = 0;

  constructor(first: SpoolColumns) {
    this.add(first);
  }

  /** Those that are held already, because both ends of a stretch of readings belong to it, are passed over. */
  add(more: SpoolColumns): void {
    const lastMs = this.#length === 0 ? Number.NEGATIVE_INFINITY : this.#held.timeMs![this.#length - 1]!;
    const first = more.timeMs.findIndex((timeMs) => timeMs > lastMs);
    if (first < 0) return;
    const { timeMs, gaugeMm, diameterMm, axesMm } = more;
    this.#append('timeMs', timeMs.subarray(first));
    this.#append('gaugeMm', gaugeMm.subarray(first));
    this.#append('diameterMm', diameterMm.subarray(first));
    if (axesMm !== null) {
      this.#append('x', axesMm.x.subarray(first));
      this.#append('y', axesMm.y.subarray(first));
    }
    this.#length += timeMs.length - first;
  }

  /** As they are now. */
  get now(): SpoolColumns {
    const view = (column: Column) => this.#held[column]?.subarray(0, this.#length) ?? new Float64Array(0);
    return {
      timeMs: view('timeMs'),
      gaugeMm: view('gaugeMm'),
      diameterMm: view('diameterMm'),
      axesMm: this.#held.x === undefined ? null : { x: view('x'), y: view('y') },
    };
  }

  #append(column: Column, values: Float64Array): void {
    const needed = this.#length + values.length;
    let held = this.#held[column];
    if (held === undefined) {
      // Most spools are asked about once they are full: nothing is set aside for growth at first.
      this.#held[column] = values;
      return;
    }
    if (held.length < needed) {
      const larger = new Float64Array(Math.max(needed, Math.ceil(held.length * 1.5)));
      larger.set(held.subarray(0, this.#length));
      held = larger;
      this.#held[column] = held;
    }
    held.set(values, this.#length);
  }
}
