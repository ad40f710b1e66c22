import type { Priority } from '../alarm/alarm.ts';
import { grantedPauseMs, type OutboxEntry, pauseAfter } from '../escalation/outbox-entry.ts';

/**
 * When each message of one priority of a channel may be tried. Whether a failure is the message's or the receiver's is
 * not to be seen from one alone, so what was never tried goes at once, in order. What failed is tried again beside it,
 * one at a time, after a pause of its own that grows, and after one that all of them share: it grows until something is
 * taken, so that a receiver that is down sees few attempts however much waits.
 */
export class RetrySchedule {
  readonly #priority: Priority;
  /** By number: what failed since something was last taken. */
  readonly #failed = new Set<number>();
  #repeats = 0;
  #restUntilMs = 0;
  /** The receiver wishes to be left alone. */
  #askedUntilMs = 0;

  constructor(priority: Priority) {
    this.#priority = priority;
  }

  dueMs({ attempts, nextMs }: OutboxEntry): number {
    return Math.max(nextMs, this.#askedUntilMs, attempts === 0 ? 0 : this.#restUntilMs);
  }

  /** @returns when it may be tried again */
  failed(entry: OutboxEntry, nowMs: number, retryAfterMs: number | null): number {
    const alone = this.#failed.size === 0;
    this.#failed.add(entry.seq);
    this.#askedUntilMs = Math.max(this.#askedUntilMs, nowMs + grantedPauseMs(retryAfterMs, this.#priority));
    // Others that fail for the first time say nothing that is new: the pause neither grows nor begins anew.
    if (alone || entry.attempts > 0) {
      this.#repeats += 1;
      this.#restUntilMs = nowMs + pauseAfter(this.#repeats, null, this.#priority);
    }
    return nowMs + pauseAfter(entry.attempts + 1, retryAfterMs, this.#priority);
  }

  /** @returns whether several had failed in a row: then the receiver was down, and what waits is worth trying at once */
  taken(): boolean {
    const wasDown = this.#failed.size > 1;
    this.forget();
    return wasDown;
  }

  /** Somebody mended it. */
  forget(): void {
    this.#failed.clear();
    this.#repeats = 0;
    this.#restUntilMs = 0;
    this.#askedUntilMs = 0;
  }
}
