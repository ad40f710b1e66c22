import { isDeepStrictEqual } from 'node:util';
import { PRIORITIES, type Priority } from '../alarm/alarm.ts';
import { type Channel, type ChannelState, withoutSecrets } from '../escalation/channel.ts';
import type { Message, Picture } from '../escalation/message.ts';
import type { OutboxEntry } from '../escalation/outbox-entry.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Log } from '../monitor/log.ts';
import type { ChannelAdapter, DeliveryFailure, LineStanding } from './delivery.ts';
import { handOver } from './hand-over.ts';
import type { Outbox } from './outbox.ts';
import { RetrySchedule } from './retry-schedule.ts';

/** One attempt may take so long, ms. */
export const ATTEMPT_MS = 15_000;
/** One hiccup is no failure of the channel. */
const FAILING_AFTER = 3;
const STOP_WAITS_MS = 3000;
const LONGEST_TIMER_MS = 60_000;

export interface ChannelQueueParts {
  readonly channel: Channel;
  readonly adapter: ChannelAdapter;
  readonly outbox: Outbox;
  readonly clock: Clock;
  readonly log: Log;
  readonly attemptMs: number;
  /** As known from before. */
  readonly state: ChannelState;
  pageAddress(): string;
  picture(message: Message): Promise<Picture | null>;
  stateChanged(state: ChannelState): void;
  /** The other end does not exist any more. */
  gone(why: string): void;
}

/** What waits for one channel in one priority: what was never tried, or what failed before. */
interface Way {
  readonly priority: Priority;
  readonly again: boolean;
  timer: NodeJS.Timeout | undefined;
  /** What is being handed over, and the end of that. */
  underway: { readonly entry: OutboxEntry; readonly over: Promise<void> } | null;
}

/**
 * Delivers what waits for one channel. Each priority goes two ways of its own, one for what failed before, so that
 * nothing new waits for what fails, nor for what is less urgent; on each one message at a time, as `Turns` says.
 */
export class ChannelQueue {
  readonly #parts: ChannelQueueParts;
  #state: ChannelState;
  #failures = 0;
  readonly #ways: readonly Way[] = PRIORITIES.flatMap((priority) =>
    [false, true].map((again): Way => ({ priority, again, timer: undefined, underway: null })),
  );
  readonly #turns = Object.fromEntries(PRIORITIES.map((one) => [one, new RetrySchedule(one)])) as Record<
    Priority,
    RetrySchedule
  >;
  #abort = new AbortController();
  #stopped = false;

  constructor(parts: ChannelQueueParts) {
    this.#parts = parts;
    this.#state = parts.state;
  }

  get state(): ChannelState {
    return this.#state;
  }

  start(): void {
    this.#parts.adapter.start?.();
    this.kick();
  }

  show(standing: LineStanding): void {
    this.#parts.adapter.show?.(standing);
  }

  /** Something may be there to send. */
  kick(): void {
    for (const way of this.#ways) this.#advance(way);
  }

  /** Lets what is being handed over come to its end, for a while. */
  async stop(): Promise<void> {
    this.#stopped = true;
    for (const { timer } of this.#ways) clearTimeout(timer);
    const timer = setTimeout(() => this.#abort.abort(), STOP_WAITS_MS);
    await Promise.all(this.#ways.map(({ underway }) => underway?.over));
    clearTimeout(timer);
    await this.#parts.adapter.stop?.();
  }

  /** A person had it tried: what they saw is what counts now. */
  tried(failure: DeliveryFailure | null): void {
    this.#failures = FAILING_AFTER;
    if (failure === null) this.#works(this.#parts.clock());
    else this.#fails(failure);
    if (failure === null) {
      for (const turns of Object.values(this.#turns)) turns.forget();
      this.#parts.outbox.hurry(this.#parts.channel.id);
      this.kick();
    }
  }

  /** The channel itself noticed that it works, or does not. */
  report(failure: DeliveryFailure | null): void {
    if (failure === null) this.#works(null);
    else this.#fails(failure);
  }

  #advance(way: Way): void {
    if (this.#stopped || way.underway !== null) return;
    clearTimeout(way.timer);
    const nowMs = this.#parts.clock();
    const entry = this.#next(way, nowMs);
    if (entry === null) return;
    const dueMs = this.#turns[way.priority].dueMs(entry);
    if (dueMs > nowMs) {
      way.timer = setTimeout(() => this.#advance(way), Math.min(dueMs - nowMs, LONGEST_TIMER_MS));
      return;
    }
    const over = this.#attempt(entry).finally(() => {
      way.underway = null;
      this.kick();
    });
    way.underway = { entry, over };
  }

  /**
   * Of what waits on a way, the first that is due; null = nothing waits. What is told of one alarm comes in order, whatever
   * is urgent of it: while some of it is being handed over on another way, the rest lets others pass.
   */
  #next(way: Way, nowMs: number): OutboxEntry | null {
    const { outbox, channel, log } = this.#parts;
    const turns = this.#turns[way.priority];
    let next: OutboxEntry | null = null;
    for (const entry of outbox.waiting(channel.id, way.priority)) {
      if (entry.attempts > 0 !== way.again) continue;
      if (nowMs >= entry.expiresMs) {
        outbox.keep({ ...entry, state: 'expired', endedMs: nowMs });
        log.warn('A message was not delivered in time', { channel: channel.name, key: entry.message.key });
      } else if (this.#ways.some(({ underway }) => underway !== null && sameAlarm(underway.entry, entry))) {
        // When that is over, this has its turn.
      } else if (next === null || turns.dueMs(entry) < turns.dueMs(next)) {
        next = entry;
      }
    }
    return next;
  }

  async #attempt(entry: OutboxEntry): Promise<void> {
    const { outbox, clock, channel, log } = this.#parts;
    const { priority } = entry.message;
    const given = {
      pageAddress: this.#parts.pageAddress(),
      picture: (ms: number) => inTime(this.#parts.picture(entry.message), ms),
    };
    const failure = await handOver(this.#parts, entry.message, given, this.#parts.attemptMs, this.#abort.signal);
    const nowMs = clock();
    const attempts = entry.attempts + 1;
    if (failure === null) {
      outbox.keep({ ...entry, attempts, state: 'delivered', why: '', endedMs: nowMs });
      if (this.#turns[priority].taken()) outbox.hurry(channel.id, [priority]);
      this.#works(nowMs);
      return;
    }
    const why = withoutSecrets(failure.message, channel.settings);
    // Asked to end: it was not the channel that failed.
    if (this.#stopped && this.#abort.signal.aborted) return;
    log.warn('A message was not taken', { channel: channel.name, key: entry.message.key, why });
    if (failure.outcome === 'again') {
      const nextMs = this.#turns[priority].failed(entry, nowMs, failure.retryAfterMs);
      outbox.keep({ ...entry, attempts, why, nextMs });
    } else {
      outbox.keep({ ...entry, attempts, why, state: 'refused', endedMs: nowMs });
    }
    this.#fails(failure);
    if (failure.outcome === 'gone') this.#parts.gone(why);
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
    // A receiver that refuses a message for good, or is gone, will not get better by itself.
    if (this.#failures < FAILING_AFTER && failure.outcome === 'again' && this.#state.phase !== 'failing') return;
    const { phase, sinceMs, lastDeliveredMs } = this.#state;
    this.#become({
      phase: 'failing',
      sinceMs: phase === 'failing' ? sinceMs : this.#parts.clock(),
      text: withoutSecrets(failure.message, this.#parts.channel.settings),
      remedy: failure.remedy,
      lastDeliveredMs,
    });
  }

  /** A broker that is away says so every few seconds: only what is new is worth a write. */
  #become(state: ChannelState): void {
    if (isDeepStrictEqual(state, this.#state)) return;
    this.#state = state;
    this.#parts.stateChanged(state);
  }
}

function sameAlarm(a: OutboxEntry, b: OutboxEntry): boolean {
  return a.message.alarmId !== null && a.message.alarmId === b.message.alarmId;
}

async function inTime(picture: Promise<Picture | null>, ms: number): Promise<Picture | null> {
  let timer: NodeJS.Timeout | undefined;
  const late = new Promise<null>((resolve) => {
    timer = setTimeout(() => resolve(null), ms);
  });
  try {
    return await Promise.race([picture, late]);
  } finally {
    clearTimeout(timer);
  }
}
