import { gammaln } from 'simple-statistics';

/**
 * Regularised incomplete beta function I_x(a, b): the share of a beta distribution below x. Continued fraction
 * (Abramowitz & Stegun 26.5.8) by Lentz's method, on the side of the mean where it converges quickly.
 */
export function incompleteBeta(x: number, a: number, b: number): number {
  if (!(a > 0 && b > 0)) throw new RangeError(`a beta distribution has no parameters ${a} and ${b}`);
  if (!(x > 0)) return 0;
  if (x >= 1) return 1;
  const front = Math.exp(gammaln(a + b) - gammaln(a) - gammaln(b) + a * Math.log(x) + b * Math.log1p(-x));
  return x < (a + 1) / (a + b + 2) ? (front * fraction(x, a, b)) / a : 1 - (front * fraction(1 - x, b, a)) / b;
}

/** x below which the share `p` of a beta distribution lies. */
export function betaQuantile(p: number, a: number, b: number): number {
  if (!(p >= 0 && p <= 1)) throw new RangeError(`a beta quantile needs a share from 0 to 1, not ${p}`);
  let low = 0;
  let high = 1;
  // To the last digit of 1.
  for (let round = 0; round < 52; round++) {
    const middle = (low + high) / 2;
    if (incompleteBeta(middle, a, b) < p) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

function fraction(x: number, a: number, b: number): number {
  const tiny = 1e-300;
  const kept = (value: number) => (Math.abs(value) < tiny ? tiny : value);
  let c = 1;
  let d = 1 / kept(1 - ((a + b) * x) / (a + 1));
  let value = d;
  for (let m = 1; m < 100_000; m++) {
    const even = (m * (b - m) * x) / ((a + 2 * m - 1) * (a + 2 * m));
    d = 1 / kept(1 + even * d);
    c = kept(1 + even / c);
    value *= d * c;
    const odd = (-(a + m) * (a + b + m) * x) / ((a + 2 * m) * (a + 2 * m + 1));
    d = 1 / kept(1 + odd * d);
    c = kept(1 + odd / c);
    const factor = d * c;
    value *= factor;
    if (Math.abs(factor - 1) < 1e-15) break;
  }
  return value;
}
