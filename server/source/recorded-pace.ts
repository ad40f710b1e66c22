const UPTIME = /(?:^|[\s,{"])(ms|us)"?\s*[=:]\s*(\d+)/;
const WRAP = 2 ** 32;
/** Lines a second of a log whose lines say nothing of time. */
const NOMINAL_RATE_HZ = 50;
/** A gap in a log is kept in the record, but nobody wants to sit through it. */
const LONGEST_WAIT_MS = 5000;

/**
 * When each line of a recorded log is due, in ms of the log's own time since its beginning: by the `ms` or `us` in it,
 * else by the rate given. A look at the raw text only, so that a log is played whatever is in it.
 */
export class RecordedPace {
  /** ms since the beginning at which the last line was due. */
  dueMs = 0;
  #uptimeMs = Number.NaN;
  #hasUptime = false;
  #first = true;
  readonly #periodMs: number;

  /** @param rateHz lines a second where they have no clock; null = unknown */
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
      // Between lines that have a clock a note takes no time.
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
