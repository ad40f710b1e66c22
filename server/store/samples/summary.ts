import { POWERS } from './decimal-fit.ts';

/** Nodes of a page of summaries. */
export const PAGE_NODES = 128;

/** Nodes that a node of the next level joins; a page holds a whole number of such families. */
export const FAN_OUT = 4;

/** From this level on (4096 readings a node) the first and last value and the squares are stored too. */
export const WHOLE_LEVEL = 2;

/** Sums are only rounded back to their decimals below this. */
const EXACT_MAX = 2 ** 50;

/** The summary of some values of one signal. */
export interface Summary {
  count: number;
  min: number;
  max: number;
  sum: number;
  /** Sum of squared deviations from the mean; a plain sum of squares would lose precision for a small deviation. */
  squares: number;
  first: number;
  last: number;
  /** Digits after the point, if every value (and so the sum) is an exact decimal; null = they are not. */
  digits: number | null;
}

export const FIELDS = ['count', 'min', 'max', 'sum', 'squares', 'first', 'last'] as const;

/** What the pages of a level hold of a signal. */
export const fieldsOfLevel = (level: number) =>
  FIELDS.slice(0, level < WHOLE_LEVEL ? FIELDS.indexOf('squares') : FIELDS.length);

/** Sums up values[from…to); gaps and infinite values do not count. The returned object is reused by the next call. */
export function summarise(values: Float64Array, from: number, to: number, digits: number | null): Summary {
  let count = 0;
  let first = Number.NaN;
  let last = Number.NaN;
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let sum = 0;
  // Squares of deviations from the first value, to keep precision.
  let deviation = 0;
  let squares = 0;
  for (let i = from; i < to; i++) {
    const v = values[i]!;
    if (!Number.isFinite(v)) continue;
    if (count === 0) first = v;
    count++;
    last = v;
    if (v < min) min = v;
    if (v > max) max = v;
    sum += v;
    const d = v - first;
    deviation += d;
    squares += d * d;
  }
  summed.count = count;
  summed.min = min;
  summed.max = max;
  summed.sum = decimal(sum, digits);
  summed.squares = count === 0 ? 0 : Math.max(squares - (deviation * deviation) / count, 0);
  summed.first = first;
  summed.last = last;
  summed.digits = digits;
  return summed;
}

const summed: Summary = { count: 0, min: 0, max: 0, sum: 0, squares: 0, first: 0, last: 0, digits: null };

/** Removes the rounding error of adding decimals, which also makes the sums pack well. */
function decimal(sum: number, digits: number | null): number {
  if (digits === null) return sum;
  const scaled = Math.round(sum * POWERS[digits]!);
  return Math.abs(scaled) < EXACT_MAX ? scaled / POWERS[digits]! : sum;
}

/** The summaries of up to `PAGE_NODES` neighbours of one signal, field by field. A node without values has count 0. */
export class SummaryColumns {
  readonly count = new Float64Array(PAGE_NODES);
  readonly min = new Float64Array(PAGE_NODES).fill(Number.NaN);
  readonly max = new Float64Array(PAGE_NODES).fill(Number.NaN);
  readonly sum = new Float64Array(PAGE_NODES).fill(Number.NaN);
  readonly squares = new Float64Array(PAGE_NODES).fill(Number.NaN);
  readonly first = new Float64Array(PAGE_NODES).fill(Number.NaN);
  readonly last = new Float64Array(PAGE_NODES).fill(Number.NaN);
  digits: number | null = 0;

  set(node: number, summary: Summary): void {
    if (summary.count === 0) return;
    for (const field of FIELDS) this[field][node] = summary[field];
    this.digits = moreDigits(this.digits, summary.digits);
  }

  /** Joins neighbours [from, from + n), in order. Formula for `squares`: Chan, Golub & LeVeque, The American Statistician 37 (1983) 242–247. */
  joined(from: number, n: number): Summary {
    joined.count = 0;
    joined.sum = 0;
    joined.squares = 0;
    joined.min = Number.POSITIVE_INFINITY;
    joined.max = Number.NEGATIVE_INFINITY;
    for (let i = from; i < from + n; i++) {
      const count = this.count[i]!;
      if (count === 0) continue;
      const before = joined.count;
      if (before === 0) {
        joined.first = this.first[i]!;
        joined.squares = this.squares[i]!;
      } else {
        const apart = this.sum[i]! / count - joined.sum / before;
        joined.squares += this.squares[i]! + apart * apart * ((before * count) / (before + count));
      }
      joined.last = this.last[i]!;
      joined.min = Math.min(joined.min, this.min[i]!);
      joined.max = Math.max(joined.max, this.max[i]!);
      joined.sum += this.sum[i]!;
      joined.count = before + count;
    }
    joined.sum = decimal(joined.sum, this.digits);
    joined.digits = this.digits;
    return joined;
  }

  copy(): SummaryColumns {
    const copy = new SummaryColumns();
    for (const field of FIELDS) copy[field].set(this[field]);
    copy.digits = this.digits;
    return copy;
  }

  clear(): void {
    for (const field of FIELDS) this[field].fill(field === 'count' ? 0 : Number.NaN);
    this.digits = 0;
  }
}

const joined: Summary = { count: 0, min: 0, max: 0, sum: 0, squares: 0, first: 0, last: 0, digits: null };

function moreDigits(a: number | null, b: number | null): number | null {
  return a === null || b === null ? null : Math.max(a, b);
}
