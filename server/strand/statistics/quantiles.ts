/**
 * Weighted quantiles. A share that falls between two samples gives the mean of both (type 2 of Hyndman & Fan 1996, The
 * American Statistician 50(4)), so the median of an even count is the usual one.
 *
 * It sorts the values: tally a million readings first.
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
  let total = 0;
  const steps = Array.from(values, (value, i) => ({ value, weight: weights === undefined ? 1 : weights[i]! }))
    .filter(({ value, weight }) => Number.isFinite(value) && weight > 0)
    .sort((a, b) => a.value - b.value)
    .map(({ value, weight }) => {
      total += weight;
      return { value, upTo: total };
    });
  const reaching = (goal: number): number =>
    (steps.find(({ upTo }) => upTo >= goal) ?? steps.at(-1))?.value ?? Number.NaN;
  // Sums of weights have rounding errors, so "exactly between two samples" needs a small margin.
  const margin = total * 1e-12;
  return shares.map((share) => (reaching(share * total - margin) + reaching(share * total + margin)) / 2);
}
