import type { Priority } from '../alarm/alarm.ts';
import type { Message, MessageKind } from './message.ts';

/**
 * `waiting` → `delivered`, or into the list of dead letters: `expired` (too late to be of use), `refused` (the receiver
 * said no for good), `withdrawn` (answered before it got out; no dead letter, for nobody missed anything).
 */
export const ENTRY_STATES = ['waiting', 'delivered', 'expired', 'refused', 'withdrawn'] as const;
type EntryState = (typeof ENTRY_STATES)[number];

/** One message on its way over one channel. Times UTC ms. */
export interface OutboxEntry {
  /** Rises by one; of one channel and priority the lower is tried first. */
  readonly seq: number;
  readonly channelId: number;
  /** Whom it is for, as told on the page. */
  readonly to: string;
  readonly message: Message;
  readonly drillId: number | null;
  readonly createdMs: number;
  readonly expiresMs: number;
  readonly state: EntryState;
  readonly attempts: number;
  /** Not tried before. */
  readonly nextMs: number;
  /** Why the last attempt failed; ''. */
  readonly why: string;
  readonly endedMs: number | null;
}

export type NewEntry = Pick<OutboxEntry, 'channelId' | 'to' | 'message' | 'drillId' | 'expiresMs'>;

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;

/** How long a message is of use. A reminder is followed by the next one, so an old one only stands in the way. */
const OF_USE_MS: Readonly<Record<MessageKind, number>> = {
  raised: 12 * HOUR_MS,
  again: 12 * HOUR_MS,
  escalated: 12 * HOUR_MS,
  reminder: 5 * MINUTE_MS,
  acknowledged: HOUR_MS,
  drill: 10 * MINUTE_MS,
  trouble: HOUR_MS,
  test: MINUTE_MS,
};

export function expiryOf(kind: MessageKind, nowMs: number): number {
  return nowMs + OF_USE_MS[kind];
}

const FIRST_PAUSE_MS = 1000;
const LONGEST_PAUSE_MS = 2 * MINUTE_MS;
const LONGEST_WISH_MS = HOUR_MS;

/** Pause after the n-th failed attempt (n from 1): 1 s, 2 s, 4 s … 2 min; longer where the receiver asks for it. */
export function pauseAfter(attempts: number, wishedMs: number | null, priority: Priority): number {
  const own = Math.min(LONGEST_PAUSE_MS, FIRST_PAUSE_MS * 2 ** Math.min(attempts - 1, 20));
  return Math.max(own, wishGranted(wishedMs, priority));
}

/**
 * How long a receiver that asks for it is left alone: never beyond an hour. Nobody sleeps through an urgent message for
 * an hour because a receiver wants to be left alone.
 */
export function wishGranted(wishedMs: number | null, priority: Priority): number {
  return Math.min(wishedMs ?? 0, priority === 'high' ? LONGEST_PAUSE_MS : LONGEST_WISH_MS);
}

/**
 * An entry from before the last start. A clock that was ahead then, and was put right since, must not let it wait for
 * years: it counts as made now, and no pause is longer than one can be.
 */
export function underClockOf(nowMs: number, entry: OutboxEntry): OutboxEntry {
  const aheadMs = Math.max(0, entry.createdMs - nowMs);
  const nextMs = Math.min(entry.nextMs, nowMs + wishGranted(Number.POSITIVE_INFINITY, entry.message.priority));
  if (aheadMs === 0 && nextMs === entry.nextMs) return entry;
  return { ...entry, createdMs: entry.createdMs - aheadMs, expiresMs: entry.expiresMs - aheadMs, nextMs };
}
