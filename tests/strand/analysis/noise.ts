/** Uniform numbers in [0, 1) from a seed (mulberry32), so that a test repeats exactly. */
export function uniforms(seed: number): () => number {
  let state = seed >>> 0;
  return () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let t = state;
    t = Math.imul(t ^ (t >>> 15), t | 1);
    t ^= t + Math.imul(t ^ (t >>> 7), t | 61);
    return ((t ^ (t >>> 14)) >>> 0) / 4_294_967_296;
  };
}

/** Independent standard normal values (Box–Muller). */
export function normals(count: number, seed: number): Float64Array {
  const random = uniforms(seed);
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
