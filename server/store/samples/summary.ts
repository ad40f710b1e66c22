/**
 * What is kept of many values of one channel. `squares` is the sum of squared deviations from the mean, so that a
 * standard deviation does not drown in the mean's own square.
 */
export interface Summary {
  readonly count: number;
  readonly first: number;
  readonly last: number;
  readonly min: number;
  readonly max: number;
  readonly sum: number;
  readonly squares: number;
}

/** Summaries of a block or of many, by channel number; a channel without values is absent. */
export type SummarySet = ReadonlyMap<number, Summary>;

/** Sum up values[0…n); gaps and infinite values do not count. Null = no value. */
export function summarise(values: Float64Array, n: number): Summary | null {
  let count = 0;
  let first = 0;
  let last = 0;
  let min = Number.POSITIVE_INFINITY;
  let max = Number.NEGATIVE_INFINITY;
  let sum = 0;
  // Deviations from the first value: no value's own size is squared.
  let deviation = 0;
  let squares = 0;
  for (let i = 0; i < n; i++) {
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
  if (count === 0) return null;
  return { count, first, last, min, max, sum, squares: Math.max(squares - (deviation * deviation) / count, 0) };
}

/** Join neighbours, in order. Formula for `squares`: Chan, Golub & LeVeque, The American Statistician 37 (1983) 242–247. */
export function mergeSets(sets: readonly SummarySet[]): SummarySet {
  const merged = new Map<number, Summary>();
  for (const set of sets) {
    for (const [channel, b] of set) {
      const a = merged.get(channel);
      merged.set(channel, a ? merge(a, b) : b);
    }
  }
  return merged;
}

function merge(a: Summary, b: Summary): Summary {
  const count = a.count + b.count;
  const apart = b.sum / b.count - a.sum / a.count;
  return {
    count,
    first: a.first,
    last: b.last,
    min: Math.min(a.min, b.min),
    max: Math.max(a.max, b.max),
    sum: a.sum + b.sum,
    squares: a.squares + b.squares + apart * apart * ((a.count * b.count) / count),
  };
}
