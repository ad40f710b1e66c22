import { seeded } from '../../chance.ts';

/** Independent standard normal values (Box–Muller). */
export function normals(count: number, seed: number): Float64Array {
  const random = seeded(seed);
  return Float64Array.from({ length: count }, () => {
    const radius = Math.sqrt(-2 * Math.log(1 - random()));
    return radius * Math.cos(2 * Math.PI * random());
  });
}

/** First-order autoregressive series with spread 1 and lag-1 autocorrelation `rho`. */
export function ar1(count: number, rho: number, seed: number): Float64Array {
  const values = normals(count, seed);
  const fresh = Math.sqrt(1 - rho * rho);
  for (let i = 1; i < count; i++) values[i] = rho * values[i - 1]! + fresh * values[i]!;
  return values;
}
