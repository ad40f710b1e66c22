import type { Priority } from '../alarm/alarm.ts';
import { isReport, type Message, type MessageKind } from './message.ts';

/**
 * From `waiting` to `delivered`, or to a failed state: `expired` (too late to be useful) or `refused` (rejected permanently by the
 * receiver). `withdrawn`: no longer needed before it was sent; not a failure.
 */
export const ENTRY_STATES = ['waiting', 'delivered', 'expired', 'refused', 'withdrawn'] as const;
type EntryState = (typeof ENTRY_STATES)[number];

/** One message for one channel. Times UTC ms. */
export interface OutboxEntry {
  /** Increases by one; within a channel and priority, lower numbers are tried first. */
  readonly seq: number;
  readonly channelId: number;
  /** Recipient, as shown on the page. */
  readonly to: string;
  readonly message: Message;
  readonly drillId: number | null;
  readonly createdMs: number;
  readonly expiresMs: number;
  readonly state: EntryState;
  readonly attempts: number;
  /** Earliest time of the next attempt. */
  readonly nextMs: number;
  /** Why the last attempt failed; '' = it did not fail. */
  readonly why: string;
  readonly endedMs: number | null;
}

export type NewEntry = Pick<OutboxEntry, 'channelId' | 'to' | 'message' | 'drillId' | 'expiresMs'>;

const MINUTE_MS = 60_000;
const HOUR_MS = 60 * MINUTE_MS;
const DAY_MS = 24 * HOUR_MS;

/** How long programs want to know what happened. */
export const REPORTS_USEFUL_DAYS = 30;

/** How long a message is useful. An old reminder is useless, as the next one follows. */
const USEFUL_MS: Readonly<Record<MessageKind, number>> = {
  raised: 12 * HOUR_MS,
  again: 12 * HOUR_MS,
  escalated: 12 * HOUR_MS,
  reminder: 5 * MINUTE_MS,
  acknowledged: HOUR_MS,
  drill: 10 * MINUTE_MS,
  trouble: HOUR_MS,
  ready: 15 * MINUTE_MS,
  test: MINUTE_MS,
  alarmStep: REPORTS_USEFUL_DAYS * DAY_MS,
  spoolFinished: REPORTS_USEFUL_DAYS * DAY_MS,
};

export function expiryOf(kind: MessageKind, nowMs: number): number {
  return nowMs + USEFUL_MS[kind];
}

const FIRST_PAUSE_MS = 1000;
const LONGEST_PAUSE_MS = 2 * MINUTE_MS;
const LONGEST_REQUESTED_MS = HOUR_MS;

/** Pause after the n-th failed attempt (n from 1): 1 s, 2 s, 4 s … 2 min; longer if the receiver requests it. */
export function pauseAfter(attempts: number, requestedMs: number | null, priority: Priority): number {
  const own = Math.min(LONGEST_PAUSE_MS, FIRST_PAUSE_MS * 2 ** Math.min(attempts - 1, 20));
  return Math.max(own, grantedPauseMs(requestedMs, priority));
}

/**
 * The pause granted to a receiver that requests one: at most an hour, and much less for urgent messages, which must not be delayed
 * that long.
 */
export function grantedPauseMs(requestedMs: number | null, priority: Priority): number {
  return Math.min(requestedMs ?? 0, priority === 'high' ? LONGEST_PAUSE_MS : LONGEST_REQUESTED_MS);
}

/**
 * Corrects an entry from before the last start, in case the clock was ahead then: it counts as created now, and its pause is no
 * longer than the longest possible one.
 */
export function withCorrectedClock(nowMs: number, entry: OutboxEntry): OutboxEntry {
  const aheadMs = Math.max(0, entry.createdMs - nowMs);
  const nextMs = Math.min(entry.nextMs, nowMs + grantedPauseMs(Number.POSITIVE_INFINITY, entry.message.priority));
  if (aheadMs === 0 && nextMs === entry.nextMs) return entry;
  return { ...entry, createdMs: entry.createdMs - aheadMs, expiresMs: entry.expiresMs - aheadMs, nextMs };
}

/**
 * What must arrive in order: the messages about one alarm, and apart from them its reports; null = on its own. A number, because
 * thousands are compared.
 */
export function sequenceOf({ message }: OutboxEntry): number | null {
  return message.alarmId === null ? null : 2 * message.alarmId + (isReport(message) ? 1 : 0);
}

export function inOneSequence(a: OutboxEntry, b: OutboxEntry): boolean {
  const sequence = sequenceOf(a);
  return sequence !== null && sequence === sequenceOf(b);
}
