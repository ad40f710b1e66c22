import type { Priority } from '../alarm/alarm.ts';
import { grantedPauseMs, type OutboxEntry, pauseAfter } from '../escalation/outbox-entry.ts';

/**
 * When each message of one priority and channel may be sent. One failure does not show whether the message or the receiver
 * is at fault, so new messages go out at once, in order. A failed message is retried after its own growing pause, and
 * after a pause that all failed messages share. The shared pause grows until a message is delivered, so that a receiver
 * that is down gets few attempts however many messages wait.
 */
export class RetrySchedule {
  readonly #priority: Priority;
  /** Sequence numbers of messages that failed since the last delivery: at most two, which is all that counts. */
  readonly #failed = new Set<number>();
  #repeats = 0;
  #pauseUntilMs = 0;
  /** The receiver asked to be left alone until then. */
  #retryAfterMs = 0;

  constructor(priority: Priority) {
    this.#priority = priority;
  }

  dueMs({ attempts, nextMs }: OutboxEntry): number {
    return Math.max(nextMs, this.#retryAfterMs, attempts === 0 ? 0 : this.#pauseUntilMs);
  }

  /** Whether the receiver asked for it. */
  isLeftAlone(nowMs: number): boolean {
    return nowMs < this.#retryAfterMs;
  }

  /**
   * @param isNews false = it was tried directly after another that failed
   * @returns when it may be sent again, UTC ms
   */
  failed(entry: OutboxEntry, nowMs: number, retryAfterMs: number | null, isNews: boolean): number {
    const first = this.#failed.size === 0;
    if (this.#failed.size < 2) this.#failed.add(entry.seq);
    this.#retryAfterMs = Math.max(this.#retryAfterMs, nowMs + grantedPauseMs(retryAfterMs, this.#priority));
    // Further first failures bring no news: they neither lengthen nor restart the pause.
    if (first || (isNews && entry.attempts > 0)) {
      this.#repeats += 1;
      this.#pauseUntilMs = nowMs + pauseAfter(this.#repeats, null, this.#priority);
    }
    return nowMs + pauseAfter(entry.attempts + 1, retryAfterMs, this.#priority);
  }

  /** @returns whether the receiver was down (several messages had failed): then all waiting ones are worth a try at once */
  delivered(): boolean {
    const wasDown = this.#failed.size > 1;
    this.reset();
    return wasDown;
  }

  /** The channel works again. */
  reset(): void {
    this.#failed.clear();
    this.#repeats = 0;
    this.#pauseUntilMs = 0;
    this.#retryAfterMs = 0;
  }
}
