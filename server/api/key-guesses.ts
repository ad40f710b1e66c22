import type { Guessing } from '../alarm/record-conditions.ts';
import { plainAddress, RecentAddresses } from './recent-addresses.ts';

/** Different wrong keys that an address may try before it has to wait. */
const FREE_TRIES = 3;
const WAIT_MS_MAX = 60_000;
const GUESSING_FROM = 10;
/** An address that has tried nothing wrong for this long starts afresh. */
const FORGET_AFTER_MS = 3_600_000;

interface Tries {
  /** Digests of the wrong keys: a program that keeps sending an old token is not guessing. */
  readonly wrong: Set<string>;
  /** Of the network that counts as one: the last that tried. */
  address: string;
  count: number;
  lastMs: number;
  waitUntilMs: number;
}

/**
 * Slows down guessing of keys, tokens and codes. After three different wrong ones an address has to wait before the next one is
 * looked at: 1 s, then twice as long each time, up to a minute.
 */
export class KeyGuesses {
  readonly #clock: () => number;
  readonly #notice: (address: string, count: number) => void;
  readonly #tries = new RecentAddresses<Tries>();

  /**
   * @param clock ms; any origin, never stepping back
   * @param notice is called once for an address, at its tenth wrong key
   */
  constructor(clock: () => number, notice: (address: string, count: number) => void) {
    this.#clock = clock;
    this.#notice = notice;
  }

  /** How long an address has to wait before its next key is looked at, ms; 0 = not at all. */
  waitMs(address: string): number {
    return Math.max(0, (this.#tries.get(address)?.waitUntilMs ?? 0) - this.#clock());
  }

  /** @param digest of the wrong key */
  failed(address: string, digest: string): void {
    const nowMs = this.#clock();
    const before = this.#tries.get(address);
    const tries =
      before !== undefined && nowMs - before.lastMs < FORGET_AFTER_MS
        ? before
        : { wrong: new Set<string>(), address, count: 0, lastMs: nowMs, waitUntilMs: 0 };
    if (tries.wrong.has(digest)) return;
    if (tries.wrong.size < GUESSING_FROM) tries.wrong.add(digest);
    tries.address = plainAddress(address);
    tries.count++;
    tries.lastMs = nowMs;
    if (tries.count >= FREE_TRIES)
      tries.waitUntilMs = nowMs + Math.min(WAIT_MS_MAX, 1000 * 2 ** (tries.count - FREE_TRIES));
    this.#tries.set(address, tries);
    if (tries.count === GUESSING_FROM) this.#notice(tries.address, tries.count);
  }

  /** The addresses with ten or more wrong keys, until an hour after the last; the one with most first. */
  guessing(): readonly Guessing[] {
    const nowMs = this.#clock();
    const found: Guessing[] = [];
    // Asked every second, and almost always about none.
    for (const { address, count, lastMs } of this.#tries.values())
      if (count >= GUESSING_FROM && nowMs - lastMs < FORGET_AFTER_MS) found.push({ address, count });
    return found.toSorted((a, b) => b.count - a.count);
  }
}
