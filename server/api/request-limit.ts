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

  /** False if the address has used up its requests. */
  admits(address: string): boolean {
    const nowMs = this.#clock();
    const window = this.#windows.get(address);
    if (window !== undefined && nowMs - window.startMs < WINDOW_MS) return ++window.count <= this.#max;
    this.#windows.set(address, { startMs: nowMs, count: 1 });
    return true;
  }
}
