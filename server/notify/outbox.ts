import { PRIORITIES, type Priority } from '../alarm/alarm.ts';
import type { Escalation } from '../escalation/escalation.ts';
import { type NewEntry, type OutboxEntry, underClockOf } from '../escalation/outbox-entry.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Log } from '../monitor/log.ts';
import { RecordGuard } from '../monitor/record-guard.ts';

/**
 * Messages on their way. The record holds them, so that a killed service goes on with them; this memory holds them too,
 * so that an alarm gets out even while the disk refuses (which is itself an alarm). What the disk refused is written
 * when it works again.
 */
export class Outbox {
  readonly #store: PeopleStore;
  readonly #clock: Clock;
  readonly #guard: RecordGuard;
  /** Waiting ones by their number, lowest first. */
  readonly #waiting = new Map<number, OutboxEntry>();
  #lastSeq = 0;

  constructor(store: PeopleStore, clock: Clock, log: Log) {
    this.#store = store;
    this.#clock = clock;
    this.#guard = new RecordGuard(log);
  }

  start(): void {
    this.#lastSeq = this.#store.lastSeq();
    const nowMs = this.#clock();
    for (const entry of this.#store.waiting()) {
      this.#waiting.set(entry.seq, entry);
      const now = underClockOf(nowMs, entry);
      if (now !== entry) this.keep(now);
    }
  }

  /** To be called once a second: writes what the disk refused before. */
  tick(): void {
    this.#guard.retry(true);
  }

  /**
   * New messages, and escalations as they stand now; `withdrawn`: alarms whose waiting messages are of no use any more.
   * @returns the channels that have something to send
   */
  put(
    escalations: readonly Escalation[],
    news: readonly NewEntry[],
    withdrawn: ReadonlySet<number>,
  ): ReadonlySet<number> {
    const nowMs = this.#clock();
    const changed: OutboxEntry[] = [];
    const calledAnew = new Set(news.filter(({ message }) => message.kind !== 'acknowledged').map(about));
    for (const entry of this.#waiting.values()) {
      const { alarmId, kind } = entry.message;
      if (alarmId === null) continue;
      // That somebody takes care of it is no longer so, and would come after the urgent word that it is there again.
      if (kind === 'acknowledged' ? !calledAnew.has(about(entry)) : !withdrawn.has(alarmId)) continue;
      this.#waiting.delete(entry.seq);
      changed.push({ ...entry, state: 'withdrawn', endedMs: nowMs });
    }
    const added = news.map(
      (entry): OutboxEntry => ({
        ...entry,
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
    this.#guard.write('messages', () => {
      for (const seq of this.#store.saveEscalations(escalations, added, changed)) this.#waiting.delete(seq);
    });
    return new Set(added.map(({ channelId }) => channelId));
  }

  /** What waits for a channel in a priority, lowest number first. */
  waiting(channelId: number, priority: Priority): OutboxEntry[] {
    const all = this.#waiting.values();
    return [...all].filter((entry) => entry.channelId === channelId && entry.message.priority === priority);
  }

  count(channelId: number): number {
    let count = 0;
    for (const entry of this.#waiting.values()) if (entry.channelId === channelId) count += 1;
    return count;
  }

  /** Whether something of high priority waits for a channel. */
  holdsUrgent(channelId: number): boolean {
    return this.waiting(channelId, 'high').length > 0;
  }

  /** An attempt was made, or it ended. */
  keep(entry: OutboxEntry): void {
    // Withdrawn while it was being handed over: what really happened to it counts.
    if (entry.state === 'waiting' && !this.#waiting.has(entry.seq)) return;
    if (entry.state === 'waiting') this.#waiting.set(entry.seq, entry);
    else this.#waiting.delete(entry.seq);
    this.#guard.write('a message', () => this.#store.keepEntry(entry));
  }

  /** The channel was mended: what waits (of these priorities) is tried at once. */
  hurry(channelId: number, priorities: readonly Priority[] = PRIORITIES): void {
    const nowMs = this.#clock();
    for (const entry of priorities.flatMap((priority) => this.waiting(channelId, priority))) {
      if (entry.nextMs > nowMs) this.keep({ ...entry, nextMs: nowMs });
    }
  }

  /** The channel is gone: nothing gets out over it. */
  drop(channelId: number, why: string): void {
    const endedMs = this.#clock();
    for (const entry of [...this.#waiting.values()]) {
      if (entry.channelId === channelId) this.keep({ ...entry, state: 'refused', why, endedMs });
    }
  }
}

/** One alarm over one channel. */
const about = ({ channelId, message }: NewEntry) => `${channelId} ${message.alarmId}`;
