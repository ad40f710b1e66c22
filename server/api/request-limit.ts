import { RecentAddresses } from './recent-addresses.ts';

const WINDOW_MS = 60_000;

/** Counts the requests of each address, in windows of a minute. */
export class RequestLimit {
  readonly #clock: () => number;
  readonly #max: number;
  readonly #windows = new RecentAddresses<{ readonly startMs: number; count: number }>();

  /**
   * @param max requests a minute
   * @param clock ms; any origin, never stepping back
   */
  constructor(max: number, clock: () => number) {
    this.#max = max;
    this.#clock = clock;
  }

  /** Counts a request. Returns how long its address has to wait before the next, ms; 0 = this one may be answered. */
  count(address: string): number {
    const nowMs = this.#clock();
    const window = this.#windows.get(address);
    if (window === undefined || nowMs - window.startMs >= WINDOW_MS) {
      this.#windows.set(address, { startMs: nowMs, count: 1 });
      return 0;
    }
    return ++window.count <= this.#max ? 0 : WINDOW_MS - (nowMs - window.startMs);
  }
}
