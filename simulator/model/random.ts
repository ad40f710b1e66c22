/**
 * The simulator's only random numbers: xoshiro128** (Blackman and Vigna, https://prng.di.unimi.it/), seeded by SplitMix64
 * (Steele, Lea and Flood, OOPSLA 2014). Every part of the model has its own stream, so that an additional draw in one part
 * does not change the numbers of the others.
 */

const MASK_64 = (1n << 64n) - 1n;

/** The SplitMix64 sequence of a 64-bit seed, as unsigned 64-bit integers. Slow; only for seeding. */
export function* splitMix64(seed: bigint): Generator<bigint, never> {
  let state = seed & MASK_64;
  for (;;) {
    state = (state + 0x9e3779b97f4a7c15n) & MASK_64;
    let z = state;
    z = ((z ^ (z >> 30n)) * 0xbf58476d1ce4e5b9n) & MASK_64;
    z = ((z ^ (z >> 27n)) * 0x94d049bb133111ebn) & MASK_64;
    yield z ^ (z >> 31n);
  }
}

/** FNV-1a, 64 bits. */
function hashName(name: string): bigint {
  let hash = 0xcbf29ce484222325n;
  for (let i = 0; i < name.length; i++) hash = ((hash ^ BigInt(name.charCodeAt(i))) * 0x100000001b3n) & MASK_64;
  return hash;
}

export class Random {
  // A typed array keeps the four words unboxed, because the generator runs millions of times per second.
  readonly #state: Uint32Array;
  #spare = 0;
  #hasSpare = false;

  /** @param words the four 32-bit words of the state, not all zero */
  constructor(words: ArrayLike<number>) {
    this.#state = Uint32Array.from({ length: 4 }, (_, i) => words[i] ?? 0);
  }

  /** A separate stream for each pair of seed (an integer ≥ 0) and name. */
  static stream(seed: number, name: string): Random {
    const source = splitMix64(BigInt(seed) ^ hashName(name));
    const a = source.next().value;
    const b = source.next().value;
    return new Random([Number(a & 0xffffffffn), Number(a >> 32n), Number(b & 0xffffffffn), Number(b >> 32n)]);
  }

  /** 32 random bits, as an integer in 0…2^32−1. */
  uint32(): number {
    const s = this.#state;
    const s1 = s[1]!;
    let r = Math.imul(s1, 5);
    r = Math.imul((r << 7) | (r >>> 25), 9);
    s[2]! ^= s[0]!;
    s[3]! ^= s1;
    s[1] = s1 ^ s[2]!;
    s[0]! ^= s[3]!;
    s[2]! ^= s1 << 9;
    const s3 = s[3]!;
    s[3] = (s3 << 11) | (s3 >>> 21);
    return r >>> 0;
  }

  /** Uniform in [0, 1), with 32 bits. */
  unit(): number {
    return this.uint32() * 2 ** -32;
  }

  /** Uniform in [low, high). */
  between(low: number, high: number): number {
    return low + (high - low) * this.unit();
  }

  /** A whole number in 0…count−1. */
  index(count: number): number {
    return Math.floor(this.unit() * count);
  }

  chance(probability: number): boolean {
    return this.unit() < probability;
  }

  /** Standard normal deviate (Marsaglia's polar method, SIAM Review 6, 1964). */
  gaussian(): number {
    if (this.#hasSpare) {
      this.#hasSpare = false;
      return this.#spare;
    }
    let u = 0;
    let v = 0;
    let square = 0;
    do {
      u = 2 * this.unit() - 1;
      v = 2 * this.unit() - 1;
      square = u * u + v * v;
    } while (square >= 1 || square === 0);
    const factor = Math.sqrt((-2 * Math.log(square)) / square);
    this.#spare = v * factor;
    this.#hasSpare = true;
    return u * factor;
  }

  /** Exponential deviate with this mean: the gap between random events. */
  exponential(mean: number): number {
    return -mean * Math.log(1 - this.unit());
  }
}

/**
 * A random value around zero with unit standard deviation and a correlation time: an Ornstein–Uhlenbeck process, with exact
 * steps.
 */
export class Wander {
  value = 0;
  readonly #random: Random;
  readonly #decay: number;
  readonly #noise: number;

  constructor(random: Random, correlationS: number, stepS: number) {
    this.#random = random;
    this.#decay = Math.exp(-stepS / correlationS);
    this.#noise = Math.sqrt(1 - this.#decay * this.#decay);
  }

  step(): number {
    this.value = this.#decay * this.value + this.#noise * this.#random.gaussian();
    return this.value;
  }
}
