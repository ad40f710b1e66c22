import { seeded } from '../chance.ts';

/** Random choices that repeat exactly with the same seed. */
export class Chooser {
  readonly #random: () => number;

  constructor(seed: number) {
    this.#random = seeded(seed);
  }

  /** A whole number from 0 up to, but not including, `end`. */
  below(end: number): number {
    return Math.floor(this.#random() * end);
  }

  /** True in this share of all cases. */
  chance(share: number): boolean {
    return this.#random() < share;
  }

  between(low: number, high: number): number {
    return low + this.#random() * (high - low);
  }

  oneOf<T>(values: readonly T[]): T {
    const chosen = values[this.below(values.length)];
    if (chosen === undefined && values.length === 0) throw new TypeError('There is nothing to choose from.');
    return chosen as T;
  }

  bytes(count: number): Uint8Array {
    return Uint8Array.from({ length: count }, () => this.below(256));
  }
}

/** The seed of one case: neighbouring cases must have nothing in common (mixing steps of MurmurHash3, public domain). */
export function seedOf(seed: number, index: number): number {
  let mixed = Math.imul(seed ^ 0x9e3779b9, 0x85ebca6b) ^ Math.imul(index + 1, 0xc2b2ae35);
  mixed = Math.imul(mixed ^ (mixed >>> 16), 0x85ebca6b);
  mixed = Math.imul(mixed ^ (mixed >>> 13), 0xc2b2ae35);
  return (mixed ^ (mixed >>> 16)) >>> 0;
}
