import { gammaln } from 'simple-statistics';

/** Share of a standard normal distribution below z, to about 1e-14: the error function is an incomplete gamma function. */
export function normalCdf(z: number): number {
  const tail = gammaQ(0.5, (z * z) / 2) / 2;
  return z < 0 ? tail : 1 - tail;
}

/** z below which the share `p` of a standard normal distribution lies. */
export function normalQuantile(p: number): number {
  if (!(p > 0 && p < 1)) throw new RangeError(`a normal quantile needs a share between 0 and 1, not ${p}`);
  // By the smaller tail, which keeps its digits.
  const tail = Math.min(p, 1 - p);
  let low = 0;
  let high = 40;
  for (let round = 0; round < 60; round++) {
    const middle = (low + high) / 2;
    if (normalCdf(-middle) > tail) low = middle;
    else high = middle;
  }
  return p < 0.5 ? -low : low;
}

/** x below which the share `p` of a chi-square distribution lies; degrees of freedom need not be whole. */
export function chiSquareQuantile(p: number, degreesOfFreedom: number): number {
  if (!(p >= 0 && p < 1)) throw new RangeError(`a chi-square quantile needs a share from 0 to below 1, not ${p}`);
  if (!(degreesOfFreedom > 0)) throw new RangeError(`degrees of freedom must be above 0, not ${degreesOfFreedom}`);
  const below = (x: number) => gammaP(degreesOfFreedom / 2, x / 2);
  let low = 0;
  let high = 1;
  while (below(high) < p) high *= 2;
  for (let round = 0; round < 100; round++) {
    const middle = (low + high) / 2;
    if (below(middle) < p) low = middle;
    else high = middle;
  }
  return high;
}

/** Share of a chi-square distribution above x. */
export function chiSquareTail(x: number, degreesOfFreedom: number): number {
  if (!(degreesOfFreedom > 0)) throw new RangeError(`degrees of freedom must be above 0, not ${degreesOfFreedom}`);
  return gammaQ(degreesOfFreedom / 2, x / 2);
}

/**
 * Regularised lower incomplete gamma function P(a, x): series below x = a + 1, continued fraction above (Abramowitz &
 * Stegun 6.5.29 and 6.5.31, the latter by Lentz's method).
 */
function gammaP(a: number, x: number): number {
  return x < a + 1 ? gammaSeries(a, x) : 1 - gammaFraction(a, x);
}

function gammaQ(a: number, x: number): number {
  return x < a + 1 ? 1 - gammaSeries(a, x) : gammaFraction(a, x);
}

function gammaSeries(a: number, x: number): number {
  let term = 1 / a;
  let sum = term;
  for (let n = 1; term > sum * 1e-17; n++) {
    term *= x / (a + n);
    sum += term;
  }
  return sum * Math.exp(a * Math.log(x) - x - gammaln(a));
}

function gammaFraction(a: number, x: number): number {
  let b = x + 1 - a;
  let c = Number.POSITIVE_INFINITY;
  let d = 1 / b;
  let value = d;
  // From x = a + 1 on, c and 1/d stay above n (by induction), so neither needs a guard against 0.
  for (let n = 1; n < 100_000; n++) {
    const an = -n * (n - a);
    b += 2;
    c = b + an / c;
    d = 1 / (an * d + b);
    const factor = d * c;
    value *= factor;
    if (factor === 1) break;
  }
  return value * Math.exp(a * Math.log(x) - x - gammaln(a));
}
