import type { SignalColumns } from '../../monitor/ports/samples.ts';

/** Minimum, maximum, sum and number of values of one signal, column by column. */
export class ColumnSums {
  /** Column number of the signal in a block. */
  readonly signal: number;
  readonly values: Float64Array;
  readonly min: Float64Array;
  readonly max: Float64Array;
  readonly sum: Float64Array;
  /** Sum of squared deviations from the column's mean; null = not requested. */
  readonly squares: Float64Array | null;

  constructor(columns: number, signal: number, spread: boolean) {
    this.signal = signal;
    this.values = new Float64Array(columns);
    this.min = new Float64Array(columns).fill(Number.POSITIVE_INFINITY);
    this.max = new Float64Array(columns).fill(Number.NEGATIVE_INFINITY);
    this.sum = new Float64Array(columns);
    this.squares = spread ? new Float64Array(columns) : null;
  }

  /** @param squares of the added values, from their own mean; used only if the spread is requested */
  add(i: number, values: number, min: number, max: number, sum: number, squares: number): void {
    if (values === 0) return;
    const before = this.values[i]!;
    if (this.squares !== null) {
      this.squares[i]! += squares;
      // Chan, Golub & LeVeque (1983), as in `summary.ts`.
      if (before > 0) {
        const apart = sum / values - this.sum[i]! / before;
        this.squares[i]! += apart * apart * ((before * values) / (before + values));
      }
    }
    this.values[i] = before + values;
    if (min < this.min[i]!) this.min[i] = min;
    if (max > this.max[i]!) this.max[i] = max;
    this.sum[i]! += sum;
  }

  columns(): SignalColumns {
    const n = this.values.length;
    const min = new Array<number | null>(n).fill(null);
    const max = new Array<number | null>(n).fill(null);
    const mean = new Array<number | null>(n).fill(null);
    for (let i = 0; i < n; i++) {
      if (this.values[i] === 0) continue;
      min[i] = this.min[i]!;
      max[i] = this.max[i]!;
      // Rounding must not move a mean beyond its extremes; an infinite sum has no mean.
      const m = this.sum[i]! / this.values[i]!;
      mean[i] = Number.isFinite(m) ? Math.min(Math.max(m, min[i]!), max[i]!) : null;
    }
    return this.squares === null ? { min, max, mean } : { min, max, mean, sd: this.#deviations(this.squares) };
  }

  #deviations(squares: Float64Array): (number | null)[] {
    return Array.from(squares, (sum, i) => {
      const sd = Math.sqrt(sum / (this.values[i]! - 1));
      return this.values[i]! > 1 && Number.isFinite(sd) ? sd : null;
    });
  }
}
