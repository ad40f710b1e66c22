import { isDeepStrictEqual } from 'node:util';
import { PRIORITIES, type Priority } from '../alarm/alarm.ts';
import { type Channel, type ChannelState, withoutSecrets } from '../escalation/channel.ts';
import { isReport, type Message, type Picture } from '../escalation/message.ts';
import { inOneSequence, type OutboxEntry, sequenceOf } from '../escalation/outbox-entry.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Log } from '../monitor/log.ts';
import { attemptDelivery } from './attempt-delivery.ts';
import type { ChannelAdapter, DeliveryFailure, LineStatus } from './delivery.ts';
import type { Outbox } from './outbox.ts';
import { type AttemptResult, isLessUrgent, RecentFailures } from './recent-failures.ts';
import { RetrySchedule } from './retry-schedule.ts';
import { inTime } from './time-limit.ts';

/** Longest time that a first attempt may take. */
export const ATTEMPT_MS = 15_000;
/**
 * A retry may take this many times as long (a minute and a half). A receiver that takes a minute to answer would otherwise get
 * a copy with each attempt, and never count as having accepted one. Once it has, a first attempt may take as long as well.
 */
const RETRY_TIME_FACTOR = 6;
/** A message that a later one does not wait for is sent so much earlier: its receiver may work again in this very moment. */
const HEAD_START_MS = 100;
/** That many messages in a row fail only if the receiver does. */
const TRIED_BEFORE_MAX = 4;
/** Failed attempts in a row before the channel counts as failing. */
const FAILING_AFTER = 3;
const STOP_WAITS_MS = 3000;
/** So many reports are picked with one look through all that wait: thousands may, and each look takes milliseconds. */
const AHEAD_MAX = 200;
const LONGEST_TIMER_MS = 60_000;

export interface ChannelQueueParts {
  readonly channel: Channel;
  readonly adapter: ChannelAdapter;
  readonly outbox: Outbox;
  readonly clock: Clock;
  readonly log: Log;
  readonly attemptMs: number;
  /** As it was stored last. */
  readonly state: ChannelState;
  pageAddress(): string;
  picture(message: Message): Promise<Picture | null>;
  stateChanged(state: ChannelState): void;
  /** The receiver does not exist any more. */
  gone(why: string): void;
}

/** Sends one message at a time: of one priority, either first attempts or retries. */
interface DeliverySlot {
  readonly priority: Priority;
  readonly retries: boolean;
  timer: NodeJS.Timeout | undefined;
  /** The message whose turn it is; `done` resolves when the turn is over. */
  sending: { readonly entry: OutboxEntry; readonly done: Promise<void> } | null;
  /** Reports whose turns follow at once, as long as nothing fails. */
  ahead: readonly OutboxEntry[];
}

interface AttemptOptions {
  readonly limitMs: number;
  /** False = the receiver has just failed, so that it fails again says nothing more. */
  readonly isNews: boolean;
}

/**
 * Delivers the messages of one channel. Each priority has two slots, one of them for retries: a new message never waits
 * for one that keeps failing, nor for a less urgent one. Earlier messages about the same alarm, of any priority, are tried directly
 * before each attempt at it, so that they arrive in order when the receiver works again. While it hangs, so that it may work again
 * in the middle of an attempt, only the earliest of each alarm is tried, and the earliest that is as urgent. `RetrySchedule` says when each may be sent.
 */
export class ChannelQueue {
  readonly #parts: ChannelQueueParts;
  #state: ChannelState;
  #failures = 0;
  readonly #slots: readonly DeliverySlot[] = PRIORITIES.flatMap((priority) =>
    [false, true].map((retries): DeliverySlot => ({ priority, retries, timer: undefined, sending: null, ahead: [] })),
  );
  readonly #schedules = Object.fromEntries(PRIORITIES.map((one) => [one, new RetrySchedule(one)])) as Record<
    Priority,
    RetrySchedule
  >;
  readonly #recent: RecentFailures;
  /** Attempts that have not ended, by message. */
  readonly #attempts = new Map<number, Promise<AttemptResult>>();
  /** How long the receiver took to accept the last message. */
  #acceptedInMs = 0;
  #abort = new AbortController();
  #stopped = false;

  constructor(parts: ChannelQueueParts) {
    this.#parts = parts;
    this.#state = parts.state;
    this.#recent = new RecentFailures(parts.clock);
  }

  get state(): ChannelState {
    return this.#state;
  }

  start(): void {
    this.#parts.adapter.start?.();
    this.kick();
  }

  show(status: LineStatus): void {
    this.#parts.adapter.show?.(status);
  }

  /** To be called when there may be something to send. */
  kick(): void {
    for (const slot of this.#slots) this.#advance(slot);
  }

  /** Waits a little for the messages that are being sent, then aborts them. */
  async stop(): Promise<void> {
    this.#stopped = true;
    for (const { timer } of this.#slots) clearTimeout(timer);
    const timer = setTimeout(() => this.#abort.abort(), STOP_WAITS_MS);
    await Promise.all([...this.#slots.map(({ sending }) => sending?.done), ...this.#attempts.values()]);
    clearTimeout(timer);
    await this.#parts.adapter.stop?.();
  }

  /** The result of a test by a user: it becomes the state of the channel at once. */
  tested(failure: DeliveryFailure | null): void {
    this.#failures = FAILING_AFTER;
    if (failure === null) this.#works(this.#parts.clock());
    else this.#fails(failure);
    if (failure === null) this.retryAll();
  }

  /** Ends all pauses. */
  retryAll(): void {
    for (const schedule of Object.values(this.#schedules)) schedule.reset();
    this.#recent.forget();
    this.#parts.outbox.retryNow(this.#parts.channel.id);
    this.kick();
  }

  /** To be called by an adapter that notices that its connection works (null) or fails. */
  report(failure: DeliveryFailure | null): void {
    if (failure === null) this.#works(null);
    else this.#fails(failure);
  }

  #advance(slot: DeliverySlot): void {
    if (this.#stopped || slot.sending !== null) return;
    clearTimeout(slot.timer);
    const nowMs = this.#parts.clock();
    const next = this.#fromAhead(slot, nowMs) ?? this.#next(slot, nowMs);
    if (next === null) return;
    const dueMs = this.#schedules[slot.priority].dueMs(next);
    if (dueMs > nowMs) {
      slot.ahead = [];
      slot.timer = setTimeout(() => this.#advance(slot), Math.min(dueMs - nowMs, LONGEST_TIMER_MS));
      return;
    }
    const done = this.#turn(next, slot).finally(() => {
      slot.sending = null;
      if (slot.ahead.length > 0) this.#advance(slot);
      else this.kick();
    });
    slot.sending = { entry: next, done };
    if (slot.ahead.length === 0 && isReport(next.message)) slot.ahead = this.#following(next, slot, nowMs);
  }

  /** Tries earlier messages about the same alarm, then this one. */
  async #turn(entry: OutboxEntry, { priority, retries }: DeliverySlot): Promise<void> {
    const { outbox, clock, attemptMs } = this.#parts;
    const longestMs = attemptMs * RETRY_TIME_FACTOR;
    for (let undelivered = 0; ; ) {
      const first = undelivered < TRIED_BEFORE_MAX ? this.#untriedBefore(entry) : null;
      // It may have been withdrawn by now.
      if (first === null && !outbox.isWaiting(entry)) return;
      const trial = first && this.#recent.trialFor(entry, first);
      if (first !== null && trial === 'unreached') return this.#putOff(entry, first, false);
      const isBeside = trial === 'beside';
      const limitMs = retries ? longestMs : Math.min(longestMs, Math.max(attemptMs, 2 * this.#acceptedInMs));
      const attempt = this.#attempt(first ?? entry, { limitMs, isNews: undelivered === 0 && !isBeside });
      const result = await (isBeside ? inTime(attempt, HEAD_START_MS) : attempt);
      if (first === null || this.#stopped) return;
      if (result === 'delivered') continue;
      if (result === 'unreached') return this.#putOff(entry, first, first.message.priority !== priority);
      // One without a result yet has not failed: all may be waiting for the same connection.
      if (result !== null || isLessUrgent(first, entry)) undelivered += 1;
      // Whether it is the message or the receiver is not known, or the receiver asked to be left alone.
      if (result === 'failed slowly' || this.#schedules[priority].isLeftAlone(clock())) return;
    }
  }

  /** Counts as a failed attempt at a message that no connection could be made for an earlier one: it must not pass that one if the receiver is back. */
  #putOff(entry: OutboxEntry, first: OutboxEntry, isNews: boolean): void {
    const { outbox, clock } = this.#parts;
    const nextMs = this.#schedules[entry.message.priority].failed(entry, clock(), null, isNews);
    outbox.save({ ...entry, attempts: entry.attempts + 1, why: outbox.why(first), nextMs });
  }

  /** The next of the reports picked before; null = another look is needed. */
  #fromAhead(slot: DeliverySlot, nowMs: number): OutboxEntry | null {
    const [next, ...rest] = slot.ahead;
    const isFit =
      next !== undefined && this.#parts.outbox.isWaiting(next) && nowMs < next.expiresMs && !this.#isBusyWith(next);
    slot.ahead = isFit ? rest : [];
    return isFit ? next : null;
  }

  /** The reports that are due after this one, oldest first. None passes an earlier one of its alarm, which may be in another slot. */
  #following(next: OutboxEntry, { priority, retries }: DeliverySlot, nowMs: number): OutboxEntry[] {
    /** Sequences with a message that waits for another turn. */
    const blocked = new Set<number | null>();
    const following: OutboxEntry[] = [];
    const ofPriority = ({ message }: OutboxEntry) => message.priority === priority;
    for (const entry of this.#parts.outbox.waiting(this.#parts.channel.id, ofPriority)) {
      if (following.length === AHEAD_MAX) break;
      if (entry.seq === next.seq) continue;
      const sequence = sequenceOf(entry);
      const isFit =
        isReport(entry.message) &&
        entry.seq > next.seq &&
        entry.attempts > 0 === retries &&
        nowMs < entry.expiresMs &&
        this.#schedules[priority].dueMs(entry) <= nowMs &&
        !(sequence !== null && (blocked.has(sequence) || this.#isBusyWith(entry, next)));
      if (isFit) following.push(entry);
      else blocked.add(sequence);
    }
    return following;
  }

  /** Whether a message is being sent that must arrive before or after this one. */
  #isBusyWith(entry: OutboxEntry, except: OutboxEntry | null = null): boolean {
    return this.#slots.some(
      ({ sending }) => sending !== null && sending.entry !== except && inOneSequence(sending.entry, entry),
    );
  }

  /**
   * The waiting message of a slot that is due first, of those that are due now the oldest; null = none waits. Messages about
   * one alarm must arrive in order: while another slot sends one of them, the others are passed over.
   */
  #next(slot: DeliverySlot, nowMs: number): OutboxEntry | null {
    const { outbox, channel, log } = this.#parts;
    const dueMs = (entry: OutboxEntry) => Math.max(nowMs, this.#schedules[slot.priority].dueMs(entry));
    const { isHanging } = this.#recent;
    /** By sequence: the first that waits; unless the receiver hangs, of this priority, as all reports have one. */
    const firstOf = new Map<number, OutboxEntry>();
    let next: OutboxEntry | null = null;
    const isWanted = ({ message }: OutboxEntry) =>
      message.priority === slot.priority || (isHanging && !isReport(message));
    for (const entry of outbox.waiting(channel.id, isWanted)) {
      const sequence = sequenceOf(entry);
      const first = sequence === null ? undefined : firstOf.get(sequence);
      const isExpired = nowMs >= entry.expiresMs;
      if (sequence !== null && first === undefined && !isExpired) firstOf.set(sequence, entry);
      if (entry.message.priority !== slot.priority || entry.attempts > 0 !== slot.retries) continue;
      if (this.#attempts.has(entry.seq)) continue;
      if (isExpired) {
        outbox.save({ ...entry, state: 'expired', endedMs: nowMs });
        log.warn('A message was not delivered in time', { channel: channel.name, key: entry.message.key });
      } else if (this.#isBusyWith(entry)) {
        // It is looked at again when that attempt is over.
      } else if (first !== undefined && isReport(entry.message)) {
        // No one waits to be woken by a report, so it never passes an earlier one of its alarm.
      } else if (
        isHanging &&
        first !== undefined &&
        (!this.#isWorthTrying(entry, first) || this.#recent.hasHungFor(entry, first))
      ) {
        // That has been tried enough for now, and will be again.
      } else if (next === null || dueMs(entry) < dueMs(next)) {
        next = entry;
      }
    }
    return next;
  }

  /** The first message about the same alarm that is to be tried once more before this one; null = there is none. */
  #untriedBefore(entry: OutboxEntry): OutboxEntry | null {
    // It never passes one.
    if (isReport(entry.message)) return null;
    const nowMs = this.#parts.clock();
    const isBefore = (one: OutboxEntry) => one.seq < entry.seq && inOneSequence(one, entry) && one.expiresMs > nowMs;
    const before = this.#parts.outbox.waiting(this.#parts.channel.id, isBefore);
    const asUrgent = before.find((one) => !isLessUrgent(one, entry));
    const tried = this.#recent.isHanging ? before.filter((one, i) => i === 0 || one === asUrgent) : before;
    return tried.find((one) => this.#isWorthTrying(entry, one)) ?? null;
  }

  #isWorthTrying(entry: OutboxEntry, first: OutboxEntry): boolean {
    return !this.#attempts.has(first.seq) && this.#recent.trialFor(entry, first) !== null;
  }

  /** At most one at a time of each message. */
  #attempt(entry: OutboxEntry, options: AttemptOptions): Promise<AttemptResult> {
    const attempt = this.#deliver(entry, options).finally(() => this.#attempts.delete(entry.seq));
    this.#attempts.set(entry.seq, attempt);
    return attempt;
  }

  async #deliver(entry: OutboxEntry, { limitMs, isNews }: AttemptOptions): Promise<AttemptResult> {
    const { outbox, clock, channel, log } = this.#parts;
    const { priority } = entry.message;
    const triedMs = clock();
    const context = {
      pageAddress: this.#parts.pageAddress(),
      picture: (ms: number) => inTime(this.#parts.picture(entry.message), ms),
    };
    const failure = await attemptDelivery(this.#parts, entry.message, context, limitMs, this.#abort.signal);
    const nowMs = clock();
    const attempts = entry.attempts + 1;
    const result = this.#recent.ended(entry, triedMs, failure);
    if (failure === null) {
      this.#acceptedInMs = nowMs - triedMs;
      outbox.save({ ...entry, attempts, state: 'delivered', why: '', endedMs: nowMs });
      if (this.#schedules[priority].delivered()) {
        outbox.retryNow(channel.id, [priority]);
        this.#recent.forget();
      }
      this.#works(nowMs);
      return result;
    }
    for (const slot of this.#slots) slot.ahead = [];
    const why = withoutSecrets(failure.message, channel.settings);
    // Aborted by `stop`: the channel did not fail.
    if (this.#stopped && this.#abort.signal.aborted) return result;
    log.warn('A message was not delivered', { channel: channel.name, key: entry.message.key, why });
    if (failure.outcome === 'retry') {
      const nextMs = this.#schedules[priority].failed(entry, nowMs, failure.retryAfterMs, isNews);
      outbox.save({ ...entry, attempts, why, nextMs });
    } else {
      outbox.save({ ...entry, attempts, why, state: 'refused', endedMs: nowMs });
    }
    this.#fails(failure);
    if (failure.outcome === 'gone') this.#parts.gone(why);
    return result;
  }

  #works(deliveredMs: number | null): void {
    this.#failures = 0;
    const { phase, sinceMs, lastDeliveredMs } = this.#state;
    const nowMs = this.#parts.clock();
    this.#become({
      phase: 'working',
      sinceMs: phase === 'working' ? sinceMs : nowMs,
      text: '',
      remedy: '',
      lastDeliveredMs: deliveredMs ?? lastDeliveredMs,
    });
  }

  #fails(failure: DeliveryFailure): void {
    this.#failures += 1;
    // A receiver that refuses a message for good, or is gone, does not recover without a user.
    if (this.#failures < FAILING_AFTER && failure.outcome === 'retry' && this.#state.phase !== 'failing') return;
    const { phase, sinceMs, lastDeliveredMs } = this.#state;
    this.#become({
      phase: 'failing',
      sinceMs: phase === 'failing' ? sinceMs : this.#parts.clock(),
      text: withoutSecrets(failure.message, this.#parts.channel.settings),
      remedy: failure.remedy,
      lastDeliveredMs,
    });
  }

  /** Writes changes only, because an adapter reports an unreachable broker again every few seconds. */
  #become(state: ChannelState): void {
    if (isDeepStrictEqual(state, this.#state)) return;
    this.#state = state;
    this.#parts.stateChanged(state);
  }
}
