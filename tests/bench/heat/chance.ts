/** Repeatable chance for the heat bench: sfc32 (C. Doty-Humphrey, PractRand, public domain; from memory), seeded by a whole number. */
export class Chance {
  #a: number;
  #b: number;
  #c: number;
  #counter = 1;
  #spareGauss = Number.NaN;

  constructor(seed: number) {
    this.#a = Math.imul(seed, 0x9e3779b1) | 0;
    this.#b = seed ^ 0x5bf03635;
    this.#c = 0x2545f491;
    for (let i = 0; i < 16; i++) this.next();
  }

  /** The same from here on, apart from this one. */
  clone(): Chance {
    const copy = new Chance(0);
    copy.#a = this.#a;
    copy.#b = this.#b;
    copy.#c = this.#c;
    copy.#counter = this.#counter;
    copy.#spareGauss = this.#spareGauss;
    return copy;
  }

  /** 0 ≤ x < 1. */
  next(): number {
    const sum = (this.#a + this.#b + this.#counter++) | 0;
    this.#a = this.#b ^ (this.#b >>> 9);
    this.#b = (this.#c + (this.#c << 3)) | 0;
    this.#c = (((this.#c << 21) | (this.#c >>> 11)) + sum) | 0;
    return (sum >>> 0) / 2 ** 32;
  }

  between(low: number, high: number): number {
    return low + (high - low) * this.next();
  }

  /** Between two positive numbers, each factor as likely. */
  spread(low: number, high: number): number {
    return low * (high / low) ** this.next();
  }

  pick<T>(items: readonly T[]): T {
    return items[Math.floor(this.next() * items.length)] as T;
  }

  /** Standard normal (Marsaglia's polar method). */
  gauss(): number {
    if (!Number.isNaN(this.#spareGauss)) {
      const spare = this.#spareGauss;
      this.#spareGauss = Number.NaN;
      return spare;
    }
    for (;;) {
      const u = 2 * this.next() - 1;
      const v = 2 * this.next() - 1;
      const s = u * u + v * v;
      if (s >= 1 || s === 0) continue;
      const scale = Math.sqrt((-2 * Math.log(s)) / s);
      this.#spareGauss = v * scale;
      return u * scale;
    }
  }
}
