import { PRIORITIES, type Priority } from '../alarm/alarm.ts';
import type { Escalation } from '../escalation/escalation.ts';
import { isReport, type Message } from '../escalation/message.ts';
import {
  expiryOf,
  type NewEntry,
  type OutboxEntry,
  REPORTS_USEFUL_DAYS,
  withCorrectedClock,
} from '../escalation/outbox-entry.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import { CLOCK_SET_MS, type Clock } from '../monitor/clock.ts';
import type { Log } from '../monitor/log.ts';
import { RecordGuard } from '../monitor/record-guard.ts';

/**
 * So many reports wait for a broker that is down, at most: a month with three hundred a day, about 15 MB of memory. The oldest
 * are given up, and the page lists them.
 */
const REPORTS_MAX = 10_000;
/** How long those that ended are listed. */
const ENDED_KEPT_DAYS = 30;
const FORGET_EVERY_MS = 3_600_000;

/**
 * Messages that wait to be delivered. They are in the record, so that they survive a kill, and in memory, so that an alarm
 * goes out even while the disk fails (which is an alarm too). What could not be written is written when the disk works
 * again.
 */
export class Outbox {
  readonly #store: PeopleStore;
  readonly #clock: Clock;
  readonly #steadyClock: Clock;
  readonly #guard: RecordGuard;
  /** The clock relative to the steady one; NaN = not looked at yet. */
  #offsetMs = Number.NaN;
  /** By sequence number, lowest first. */
  readonly #waiting = new Map<number, OutboxEntry>();
  #lastSeq = 0;
  #forgottenMs = 0;

  /** @param steadyClock ms; any origin, never set; by default the clock itself is not set either */
  constructor(store: PeopleStore, clock: Clock, log: Log, steadyClock: Clock = clock) {
    this.#store = store;
    this.#clock = clock;
    this.#steadyClock = steadyClock;
    this.#guard = new RecordGuard(log);
  }

  start(): void {
    this.#lastSeq = this.#store.lastSeq();
    for (const entry of this.#store.waiting()) this.#waiting.set(entry.seq, entry);
    this.correctClock();
    this.#keepReports();
  }

  /** If the clock is months ahead at a start, no report is too old because of that. */
  #keepReports(): void {
    const nowMs = this.#clock();
    const oldMs = this.#store.olderThan(REPORTS_USEFUL_DAYS, nowMs);
    const young = [...this.#waiting.values()].filter(
      ({ message, createdMs, expiresMs }) => isReport(message) && expiresMs <= nowMs && createdMs >= oldMs,
    );
    this.#saveAll(young.map((entry) => ({ ...entry, expiresMs: expiryOf(entry.message.kind, nowMs) })));
  }

  /** To be called after the clock may have been set back. */
  correctClock(): void {
    const nowMs = this.#clock();
    const waiting = [...this.#waiting.values()];
    this.#saveAll(waiting.map((entry) => withCorrectedClock(nowMs, entry)).filter((entry, i) => entry !== waiting[i]));
  }

  /**
   * After a power cut many machines start with an old time, and are set right when the network is back. What has waited for
   * it a minute is not too late because of that.
   */
  #followClock(): void {
    const offsetMs = this.#clock() - this.#steadyClock();
    const setMs = offsetMs - this.#offsetMs;
    this.#offsetMs = offsetMs;
    if (!(setMs > CLOCK_SET_MS)) return;
    this.#saveAll(
      [...this.#waiting.values()].map((entry) => ({
        ...entry,
        createdMs: entry.createdMs + setMs,
        expiresMs: entry.expiresMs + setMs,
        nextMs: entry.nextMs + setMs,
      })),
    );
  }

  /** To be called once a second: writes what could not be written before. */
  tick(): void {
    this.#followClock();
    this.#guard.retry(true);
  }

  /** To be called often: deletes those that ended long ago. */
  forgetOld(): void {
    const nowMs = this.#clock();
    if (Math.abs(nowMs - this.#forgottenMs) < FORGET_EVERY_MS) return;
    this.#forgottenMs = nowMs;
    this.#store.forgetBefore(this.#store.olderThan(ENDED_KEPT_DAYS, nowMs));
  }

  /**
   * Stores the current escalations with their new messages.
   * @param withdrawn alarms whose waiting messages are no longer of use
   * @returns the channels that have something to send
   */
  put(
    escalations: readonly Escalation[],
    newEntries: readonly NewEntry[],
    withdrawn: ReadonlySet<number>,
  ): ReadonlySet<number> {
    this.#followClock();
    const nowMs = this.#clock();
    const changed: OutboxEntry[] = [];
    const notifiedAgain = new Set(
      newEntries.filter(({ message }) => message.kind !== 'acknowledged' && !isReport(message)).map(alarmAndChannel),
    );
    for (const entry of this.#waiting.values()) {
      const { alarmId, kind } = entry.message;
      // What happened stays a fact.
      if (alarmId === null || isReport(entry.message)) continue;
      // “Acknowledged” is out of date once the alarm was raised again, and must not arrive after that message.
      if (kind === 'acknowledged' ? !notifiedAgain.has(alarmAndChannel(entry)) : !withdrawn.has(alarmId)) continue;
      this.#waiting.delete(entry.seq);
      changed.push({ ...entry, state: 'withdrawn', endedMs: nowMs });
    }
    const added = newEntries.map(
      (entry): OutboxEntry => ({
        ...entry,
        message: asStored(entry.message),
        seq: ++this.#lastSeq,
        createdMs: nowMs,
        state: 'waiting',
        attempts: 0,
        nextMs: nowMs,
        why: '',
        endedMs: null,
      }),
    );
    for (const entry of added) this.#waiting.set(entry.seq, entry);
    changed.push(...this.#givenUp(added, nowMs));
    this.#guard.write('messages', () => {
      for (const seq of this.#store.saveEscalations(escalations, added, changed)) this.#waiting.delete(seq);
    });
    return new Set(added.map(({ channelId }) => channelId));
  }

  /** The oldest reports beyond what may wait, on channels that get another. */
  #givenUp(added: readonly OutboxEntry[], nowMs: number): OutboxEntry[] {
    const channelIds = new Set(added.filter(({ message }) => isReport(message)).map(({ channelId }) => channelId));
    const givenUp = [...channelIds].flatMap((id) => {
      const reports = this.waiting(id, ({ message }) => isReport(message));
      return reports.slice(0, Math.max(0, reports.length - REPORTS_MAX));
    });
    const why = `More than ${REPORTS_MAX} reports waited.`;
    return givenUp.map((entry) => {
      this.#waiting.delete(entry.seq);
      return { ...entry, state: 'expired', why, endedMs: nowMs };
    });
  }

  /** Waiting messages of a channel that are wanted, lowest number first. Thousands may wait, so only these are copied. */
  waiting(channelId: number, isWanted: (entry: OutboxEntry) => boolean): OutboxEntry[] {
    this.#followClock();
    const wanted: OutboxEntry[] = [];
    for (const entry of this.#waiting.values())
      if (entry.channelId === channelId && isWanted(entry)) wanted.push(entry);
    return wanted;
  }

  isWaiting({ seq }: OutboxEntry): boolean {
    return this.#waiting.has(seq);
  }

  /** Why the last attempt at a waiting message failed; '' = it did not fail. */
  why({ seq }: OutboxEntry): string {
    return this.#waiting.get(seq)?.why ?? '';
  }

  count(channelId: number): number {
    let count = 0;
    for (const entry of this.#waiting.values()) if (entry.channelId === channelId) count += 1;
    return count;
  }

  /** Whether a message of high priority waits for a channel. */
  holdsUrgent(channelId: number): boolean {
    return this.waiting(channelId, ({ message }) => message.priority === 'high').length > 0;
  }

  /** Stores a message after an attempt, or at its end. */
  save(entry: OutboxEntry): void {
    this.#saveAll([entry]);
  }

  /** At once: thousands of reports may wait, and each write waits for the disk. */
  #saveAll(entries: readonly OutboxEntry[]): void {
    // What was withdrawn while it was being sent must not wait again.
    const kept = entries.filter(({ state, seq }) => state !== 'waiting' || this.#waiting.has(seq));
    if (kept.length === 0) return;
    for (const entry of kept) {
      if (entry.state === 'waiting') this.#waiting.set(entry.seq, entry);
      else this.#waiting.delete(entry.seq);
    }
    this.#guard.write('messages', () => this.#store.keepEntries(kept));
  }

  /** The channel works again: waiting messages of these priorities are due at once. */
  retryNow(channelId: number, priorities: readonly Priority[] = PRIORITIES): void {
    const nowMs = this.#clock();
    const paused = this.waiting(
      channelId,
      ({ message, nextMs }) => nextMs > nowMs && priorities.includes(message.priority),
    );
    this.#saveAll(paused.map((entry) => ({ ...entry, nextMs: nowMs })));
  }

  /** The channel was removed: its waiting messages are refused. */
  drop(channelId: number, why: string): void {
    const endedMs = this.#clock();
    const dropped = [...this.#waiting.values()].filter((entry) => entry.channelId === channelId);
    this.#saveAll(dropped.map((entry) => ({ ...entry, state: 'refused', why, endedMs })));
  }
}

/** Thousands may wait. Parsed objects share a hidden class, while each made by spreading may have one of half a kilobyte. */
const asStored = (message: Message): Message => JSON.parse(JSON.stringify(message));

/** One alarm over one channel. */
const alarmAndChannel = ({ channelId, message }: NewEntry) => `${channelId} ${message.alarmId}`;
