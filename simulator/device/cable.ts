/** A noisy cable between device and reader: flipped bits, lost bytes, garbage, and lost line ends that join two lines. */

import type { Random } from '../model/random.ts';

/** Share of the lines with each disturbance. */
export interface CableNoise {
  readonly flips: number;
  readonly losses: number;
  readonly garbage: number;
  readonly joined: number;
}

export class Cable {
  noise: CableNoise | null = null;
  /** Number of damaged transmissions. */
  damaged = 0;
  readonly #random: Random;

  constructor(random: Random) {
    this.#random = random;
  }

  /** @param text one character per byte (latin1), as in the result */
  carry(text: string): string {
    const noise = this.noise;
    if (noise === null || text === '') return text;
    const random = this.#random;
    let out = text;
    if (random.chance(noise.flips)) {
      for (let i = 0, count = 1 + random.index(4); i < count; i++) {
        const at = random.index(out.length);
        const byte = out.charCodeAt(at) ^ (1 << random.index(8));
        out = out.slice(0, at) + String.fromCharCode(byte) + out.slice(at + 1);
      }
    }
    if (random.chance(noise.losses)) {
      const at = random.index(out.length);
      out = out.slice(0, at) + out.slice(at + 1 + random.index(12));
    }
    if (random.chance(noise.garbage)) {
      const at = random.index(out.length);
      let garbage = '';
      for (let i = 0, count = 1 + random.index(40); i < count; i++) garbage += String.fromCharCode(random.index(256));
      out = out.slice(0, at) + garbage + out.slice(at);
    }
    if (random.chance(noise.joined)) out = out.replace(/\r?\n$/, '');
    if (out !== text) this.damaged++;
    return out;
  }
}
