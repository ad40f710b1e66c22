import type { ExpectedReading } from './zone-status.ts';

/** One value every 5 s for ten minutes. */
const EVERY_S = 5;
const KEPT_S = 600;

/** Where the reading was expected at one time. */
export interface ExpectedThen extends ExpectedReading {
  readonly timeMs: number;
}

/** Where one zone's reading was expected over the last ten minutes. */
export class ExpectedPast {
  #values: ExpectedThen[] = [];

  /** Called once a second; null = no expectation. */
  put(timeMs: number, expected: ExpectedReading | null): void {
    const newestMs = this.#values.at(-1)?.timeMs ?? Number.NEGATIVE_INFINITY;
    if (timeMs >= newestMs && timeMs - newestMs < EVERY_S * 1000) return;
    // Also drops values from the future, after the clock went back.
    this.#values = this.#values.filter((value) => value.timeMs <= timeMs && timeMs - value.timeMs <= KEPT_S * 1000);
    if (expected !== null) this.#values.push({ timeMs, ...expected });
  }

  /** Oldest first; a gap in time means that there was no expectation. */
  values(): readonly ExpectedThen[] {
    return [...this.#values];
  }
}
