import type { ExpectedReading } from './zone-status.ts';

/** One value in so many seconds, and so many of them: ten minutes. */
const EVERY_S = 5;
const KEPT = 120;

/** When, and where the reading was expected then. */
export interface ExpectedThen extends ExpectedReading {
  readonly timeMs: number;
}

/** Where one zone's reading was expected over the last ten minutes. */
export class ExpectedPast {
  readonly #values: ExpectedThen[] = [];

  /** Once a second; null = nothing could be expected. */
  put(timeMs: number, expected: ExpectedReading | null): void {
    const newest = this.#values.at(-1)?.timeMs ?? Number.NEGATIVE_INFINITY;
    // A clock that went back begins anew.
    if (timeMs < newest) this.#values.length = 0;
    else if (timeMs - newest < EVERY_S * 1000) return;
    while (this.#values.length > 0 && timeMs - this.#values[0]!.timeMs > EVERY_S * KEPT * 1000) this.#values.shift();
    if (expected !== null) this.#values.push({ timeMs, ...expected });
  }

  /** Oldest first; a pause tells that nothing could be expected. */
  values(): readonly ExpectedThen[] {
    return [...this.#values];
  }
}
