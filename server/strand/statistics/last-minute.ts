import { WeightedMoments } from './weighted-moments.ts';

const SECONDS = 60;

/** Mean and spread of what was measured in the last 60 s, in steps of a second. */
export class LastMinute {
  readonly #bySecond = new Map<number, WeightedMoments>();

  /** Values that are not finite do not count. `atMs` is any clock that does not go back, the same as in `moments`. */
  add(value: number, atMs: number): void {
    const second = Math.floor(atMs / 1000);
    let moments = this.#bySecond.get(second);
    if (moments === undefined) {
      this.#forgetBefore(second - SECONDS);
      moments = new WeightedMoments();
      this.#bySecond.set(second, moments);
    }
    moments.add(value);
  }

  moments(nowMs: number): WeightedMoments {
    this.#forgetBefore(Math.floor(nowMs / 1000) - SECONDS);
    const all = new WeightedMoments();
    for (const one of this.#bySecond.values()) all.merge(one);
    return all;
  }

  #forgetBefore(first: number): void {
    for (const second of this.#bySecond.keys()) {
      // In the order in which they were added.
      if (second > first) return;
      this.#bySecond.delete(second);
    }
  }
}
