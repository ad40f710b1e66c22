import type { StrandOnWinder } from '../../strand/position.ts';
import type { StrandLimits } from '../../strand/strand-limits.ts';

/** A spool to be analysed, apart from its readings. Plain data, because it is passed to a worker. */
export interface AnalysedSpool extends StrandOnWinder {
  readonly endGaugeMm: number;
  readonly limits: StrandLimits;
  /** It is still being wound. */
  readonly growing: boolean;
}

/** Readings of a spool and of some strand before and after it: parallel arrays, one entry per reading, NaN = no value. */
export interface SpoolColumns {
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly diameterMm: Float64Array;
  /** null = single-axis gauge. */
  readonly axesMm: { readonly x: Float64Array; readonly y: Float64Array } | null;
}

type Column = 'timeMs' | 'gaugeMm' | 'diameterMm' | 'x' | 'y';

/** Columns to which readings can be appended while a spool is being wound. */
export class GrowingColumns {
  readonly #buffers: Partial<Record<Column, Float64Array>> = {};
  #length = 0;

  /** Skips readings that are present already, because both ends of a stretch are inclusive. */
  add(more: SpoolColumns): void {
    const lastMs = this.#buffers.timeMs?.[this.#length - 1] ?? Number.NEGATIVE_INFINITY;
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

  /** Views of the current columns. */
  get current(): SpoolColumns {
    const view = (column: Column) => this.#buffers[column]?.subarray(0, this.#length) ?? new Float64Array(0);
    return {
      timeMs: view('timeMs'),
      gaugeMm: view('gaugeMm'),
      diameterMm: view('diameterMm'),
      axesMm: this.#buffers.x === undefined ? null : { x: view('x'), y: view('y') },
    };
  }

  #append(column: Column, values: Float64Array): void {
    const needed = this.#length + values.length;
    let buffer = this.#buffers[column];
    if (buffer === undefined) {
      // Most spools are analysed when they are complete, so no space for growth is reserved at first.
      this.#buffers[column] = values;
      return;
    }
    if (buffer.length < needed) {
      const larger = new Float64Array(Math.max(needed, Math.ceil(buffer.length * 1.5)));
      larger.set(buffer.subarray(0, this.#length));
      buffer = larger;
      this.#buffers[column] = buffer;
    }
    buffer.set(values, this.#length);
  }
}
