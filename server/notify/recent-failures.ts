import { PRIORITIES } from '../alarm/alarm.ts';
import type { OutboxEntry } from '../escalation/outbox-entry.ts';
import type { Clock } from '../monitor/clock.ts';
import type { DeliveryFailure } from './delivery.ts';

/** A failure that took longer, or is longer ago, says little about the receiver as it is now. */
const SLOW_FAILURE_MS = 1000;
/** Of more messages the last attempts are not remembered: they may have expired long ago. */
const REMEMBERED_MAX = 1000;

/** `unreached`: no connection could be made, so every other message would have failed as well. */
export type AttemptResult = 'delivered' | 'failed' | 'failed slowly' | 'unreached';

/** The last failed attempt at a message. */
interface Failed {
  readonly result: AttemptResult;
  readonly triedMs: number;
  readonly endedMs: number;
  /** When the attempt before it began, if both failed slowly. */
  readonly slowBeforeMs: number | null;
}

/**
 * What the last attempts of one channel say about its receiver, and whether an earlier message is worth another one for the sake of
 * a later one. Not known after a start, and of no meaning once the receiver works again.
 */
export class RecentFailures {
  readonly #clock: Clock;
  /** By sequence number, the last attempt last. */
  readonly #failed = new Map<number, Failed>();
  /** Messages that failed slowly since the receiver last answered: at most two, which is all that counts. */
  readonly #unanswered = new Set<number>();

  constructor(clock: Clock) {
    this.#clock = clock;
  }

  /** To be called at the end of each attempt. */
  ended({ seq }: OutboxEntry, triedMs: number, failure: DeliveryFailure | null): AttemptResult {
    const endedMs = this.#clock();
    const isSlow = endedMs - triedMs > SLOW_FAILURE_MS;
    const before = this.#failed.get(seq);
    this.#failed.delete(seq);
    const result =
      failure === null ? 'delivered' : failure.isUnreached ? 'unreached' : isSlow ? 'failed slowly' : 'failed';
    if (result !== 'failed slowly') this.#unanswered.clear();
    else if (!this.isHanging) this.#unanswered.add(seq);
    if (failure?.outcome !== 'retry') return result;
    const slowBeforeMs = result === before?.result && result === 'failed slowly' ? before.triedMs : null;
    this.#failed.set(seq, { result, triedMs, endedMs, slowBeforeMs });
    const [oldest] = this.#failed.keys();
    if (this.#failed.size > REMEMBERED_MAX) this.#failed.delete(oldest!);
    return result;
  }

  /** The receiver works again. */
  forget(): void {
    this.#failed.clear();
  }

  get isHanging(): boolean {
    return this.#unanswered.size > 1;
  }

  /**
   * How an earlier message is to be tried for a later one: before it, or just ahead of it, without waiting for the result. If it was
   * tried a moment ago, then not again: null = it failed, which says nothing about the later one; `unreached` = both would fail.
   */
  trialFor(entry: OutboxEntry, first: OutboxEntry): 'before' | 'beside' | 'unreached' | null {
    const recent = this.#resultSince(entry, first);
    if (recent === 'failed') return null;
    if (recent === 'unreached') return recent;
    return isLessUrgent(first, entry) || this.hasHungFor(entry, first) ? 'beside' : 'before';
  }

  /** Whether an earlier message failed slowly, and slowly again since the later one was created: it may be what the receiver hangs at. */
  hasHungFor({ createdMs }: OutboxEntry, { seq }: OutboxEntry): boolean {
    const failed = this.#failed.get(seq);
    return failed !== undefined && failed.slowBeforeMs !== null && failed.slowBeforeMs >= createdMs;
  }

  /** How the last attempt at an earlier message ended, if it began since the later one was created and ended a moment ago. */
  #resultSince({ createdMs }: OutboxEntry, { seq }: OutboxEntry): AttemptResult | null {
    const failed = this.#failed.get(seq);
    if (failed === undefined || failed.triedMs < createdMs) return null;
    return this.#clock() - failed.endedMs <= SLOW_FAILURE_MS ? failed.result : null;
  }
}

export function isLessUrgent(one: OutboxEntry, other: OutboxEntry): boolean {
  return PRIORITIES.indexOf(one.message.priority) > PRIORITIES.indexOf(other.message.priority);
}
