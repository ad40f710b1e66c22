import { randomOf } from './readings.ts';

/** Repeatable standard normal numbers (Box & Muller 1958). */
export function gauss(seed: number): () => number {
  const random = randomOf(seed);
  return () => Math.sqrt(-2 * Math.log(random())) * Math.cos(2 * Math.PI * random());
}
