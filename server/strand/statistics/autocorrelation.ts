import { momentsOf } from './weighted-moments.ts';

/**
 * Autocorrelation of neighbours in an evenly spaced series: Σ(y_i − m)(y_{i−1} − m) / Σ(y_i − m)², the definition of the NIST
 * StRD. Pairs with a gap (NaN) do not count. NaN for a series without spread.
 */
export function autocorrelation(values: ArrayLike<number>): number {
  const { mean } = momentsOf(values);
  let products = 0;
  let squares = 0;
  let last = 0;
  for (let i = 0; i < values.length; i++) {
    // A gap is zero: it adds nothing to a sum of products.
    const value = Number.isFinite(values[i]!) ? values[i]! - mean : 0;
    products += value * last;
    squares += value * value;
    last = value;
  }
  return products / squares;
}
