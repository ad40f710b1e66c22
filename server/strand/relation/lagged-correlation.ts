/** Slow drift is taken out as the mean over this share of the record, centred. */
const DRIFT_SHARE = 1 / 8;
/** A series with fewer values shows no relation. */
const VALUES_MIN = 64;
/** Autocorrelations are known up to this share of the record. */
const OWN_SHARE = 1 / 4;

/**
 * The ranks of a series without its slow drift, with mean 0 and mean square 1; gaps are 0, which adds nothing to a product.
 * null = too few values, or none that differs.
 */
export function levelScores(values: ArrayLike<number>): Float64Array | null {
  const level = withoutDrift(values);
  const order = Array.from(level.keys())
    .filter((i) => Number.isFinite(level[i]!))
    .sort((a, b) => level[a]! - level[b]!);
  if (order.length < Math.max(VALUES_MIN, values.length / 2)) return null;
  const scores = new Float64Array(values.length);
  let squares = 0;
  for (let from = 0; from < order.length; ) {
    let to = from + 1;
    while (to < order.length && level[order[to]!] === level[order[from]!]) to++;
    // Equal values share the mean of their ranks.
    const score = (from + to) / 2 - order.length / 2;
    for (let k = from; k < to; k++) scores[order[k]!] = score;
    squares += (to - from) * score * score;
    from = to;
  }
  if (!(squares > 0)) return null;
  const scale = Math.sqrt(values.length / squares);
  return scores.map((score) => score * scale);
}

/** Differences from the mean of the surroundings; rounded, so that equal values stay equal. */
function withoutDrift(values: ArrayLike<number>): Float64Array {
  const n = values.length;
  const half = Math.max(1, Math.floor((n * DRIFT_SHARE) / 2));
  const sums = new Float64Array(n + 1);
  const counts = new Float64Array(n + 1);
  for (let i = 0; i < n; i++) {
    const known = Number.isFinite(values[i]!);
    sums[i + 1] = sums[i]! + (known ? values[i]! : 0);
    counts[i + 1] = counts[i]! + (known ? 1 : 0);
  }
  return Float64Array.from({ length: n }, (_, i) => {
    const [from, to] = [Math.max(0, i - half), Math.min(n, i + half + 1)];
    const mean = (sums[to]! - sums[from]!) / (counts[to]! - counts[from]!);
    return Number.isFinite(values[i]!) ? Math.round((values[i]! - mean) * 1e9) / 1e9 : Number.NaN;
  });
}

/** Correlation of `a` with `b` so many steps later: Σ a(i) b(i + lag) / n, for series with mean 0 and mean square 1. */
export function correlationAt(a: Float64Array, b: Float64Array, lag: number): number {
  let sum = 0;
  for (let i = lag; i < b.length; i++) sum += a[i - lag]! * b[i]!;
  return sum / b.length;
}

/** Autocorrelations of such a series, from lag 1. */
export function lagCorrelations(a: Float64Array): Float64Array {
  return Float64Array.from({ length: Math.floor(a.length * OWN_SHARE) }, (_, lag) => correlationAt(a, a, lag + 1));
}
