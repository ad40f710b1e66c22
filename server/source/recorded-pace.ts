const UPTIME = /(?:^|[\s,{"])(ms|us)"?\s*[=:]\s*(\d+)/;
const WRAP = 2 ** 32;
/** Lines per second of a log without a clock. */
const NOMINAL_RATE_HZ = 50;
/** A long gap in a log stays in the record, but the replay shortens it. */
const LONGEST_WAIT_MS = 5000;

/**
 * When each line of a recorded log is due, in ms of the log's time since its first line: by its `ms` or `us`, else by a
 * constant rate. It searches the raw text only, so that a log with any content can be replayed.
 */
export class RecordedPace {
  /** When the last line was due, ms since the first one. */
  dueMs = 0;
  #uptimeMs = Number.NaN;
  #hasUptime = false;
  #first = true;
  readonly #periodMs: number;

  /** @param rateHz lines per second if they have no clock; null = unknown */
  constructor(rateHz: number | null = null) {
    this.#periodMs = 1000 / (rateHz ?? NOMINAL_RATE_HZ);
  }

  next(line: string): void {
    if (this.#first) {
      this.#first = false;
      this.#uptimeMs = this.#uptimeOf(line);
      return;
    }
    const uptimeMs = this.#uptimeOf(line);
    if (Number.isNaN(uptimeMs)) {
      // A note between lines that have a clock takes no time.
      if (!this.#hasUptime) this.dueMs += this.#periodMs;
      return;
    }
    const step = uptimeMs - this.#uptimeMs;
    this.#uptimeMs = uptimeMs;
    if (Number.isNaN(step)) return;
    this.dueMs += step < 0 ? this.#periodMs : Math.min(step, LONGEST_WAIT_MS);
  }

  #uptimeOf(line: string): number {
    const [, unit, digits] = UPTIME.exec(line) ?? [];
    if (digits === undefined || Number(digits) >= WRAP) return Number.NaN;
    this.#hasUptime = true;
    return unit === 'us' ? Number(digits) / 1000 : Number(digits);
  }
}
