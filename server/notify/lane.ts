import { isDeepStrictEqual } from 'node:util';
import { PRIORITIES, type Priority } from '../alarm/alarm.ts';
import type { CallMessage } from '../calling/call-message.ts';
import { type Channel, type ChannelState, withoutSecrets } from '../calling/channel.ts';
import { type OutboxEntry, pauseAfter } from '../calling/outbox-entry.ts';
import type { Log } from '../monitor/log.ts';
import type { Clock } from '../monitor/steady-clock.ts';
import { messageOf } from '../problem/problem.ts';
import { type ChannelAdapter, DeliveryFailure, type LineStanding, type Picture, type SendWith } from './delivery.ts';
import type { Outbox } from './outbox.ts';

/** One attempt may take so long, ms. */
export const ATTEMPT_MS = 15_000;
/** One hiccup is no failure of the channel. */
const FAILING_AFTER = 3;
const STOP_WAITS_MS = 3000;
const LONGEST_TIMER_MS = 60_000;

export interface LaneParts {
  readonly channel: Channel;
  readonly adapter: ChannelAdapter;
  readonly outbox: Outbox;
  readonly clock: Clock;
  readonly log: Log;
  readonly attemptMs: number;
  /** As known from before. */
  readonly state: ChannelState;
  pageAddress(): string;
  picture(message: CallMessage): Promise<Picture | null>;
  stateChanged(state: ChannelState): void;
  /** The other end does not exist any more. */
  gone(why: string): void;
}

/** What waits for one channel in one priority. */
interface Way {
  readonly priority: Priority;
  timer: NodeJS.Timeout | undefined;
  /** What is being handed over, and the end of that. */
  underway: { readonly entry: OutboxEntry; readonly over: Promise<void> } | null;
}

/**
 * Delivers what waits for one channel. Each priority goes a way of its own, so that nothing waits for what is less
 * urgent and fails; on each in order, one at a time, with growing pauses after failures.
 */
export class Lane {
  readonly #parts: LaneParts;
  #state: ChannelState;
  #failures = 0;
  readonly #ways: readonly Way[] = PRIORITIES.map((priority) => ({ priority, timer: undefined, underway: null }));
  #abort = new AbortController();
  #stopped = false;

  constructor(parts: LaneParts) {
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
    const { outbox, channel, clock } = this.#parts;
    const next = () => outbox.next(channel.id, way.priority);
    for (let entry = next(); entry !== null; entry = next()) {
      const nowMs = clock();
      if (nowMs >= entry.expiresMs) {
        outbox.keep({ ...entry, state: 'expired', endedMs: nowMs });
        this.#parts.log.warn('A message was not delivered in time', { channel: channel.name, key: entry.message.key });
        continue;
      }
      if (entry.nextMs > nowMs) {
        way.timer = setTimeout(() => this.#advance(way), Math.min(entry.nextMs - nowMs, LONGEST_TIMER_MS));
        return;
      }
      // What is told of one alarm comes in order, whatever is urgent of it. When the other is over, this has its turn.
      if (this.#ways.some(({ underway }) => underway !== null && sameAlarm(underway.entry, entry))) return;
      const over = this.#attempt(entry).finally(() => {
        way.underway = null;
        this.kick();
      });
      way.underway = { entry, over };
      return;
    }
  }

  async #attempt(entry: OutboxEntry): Promise<void> {
    const { outbox, clock, channel, log } = this.#parts;
    const given = {
      pageAddress: this.#parts.pageAddress(),
      picture: (ms: number) => inTime(this.#parts.picture(entry.message), ms),
    };
    const failure = await handOver(this.#parts, entry.message, given, this.#parts.attemptMs, this.#abort.signal);
    const nowMs = clock();
    const attempts = entry.attempts + 1;
    if (failure === null) {
      outbox.keep({ ...entry, attempts, state: 'delivered', why: '', endedMs: nowMs });
      this.#works(nowMs);
      return;
    }
    const why = withoutSecrets(failure.message, channel.settings);
    // Asked to end: it was not the channel that failed.
    if (this.#stopped && this.#abort.signal.aborted) return;
    log.warn('A message was not taken', { channel: channel.name, key: entry.message.key, why });
    if (failure.outcome === 'again') {
      const nextMs = nowMs + pauseAfter(attempts, failure.retryAfterMs, entry.message.priority);
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
      words: '',
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
      words: withoutSecrets(failure.message, this.#parts.channel.settings),
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

/** One attempt, with an end whatever the adapter does. Null = taken. What is a fault of our own is logged whole. */
export async function handOver(
  { adapter, channel, log }: Pick<LaneParts, 'adapter' | 'channel' | 'log'>,
  message: CallMessage,
  given: Omit<SendWith, 'signal'>,
  attemptMs: number,
  stopped: AbortSignal | null = null,
): Promise<DeliveryFailure | null> {
  const tooLong = AbortSignal.timeout(attemptMs);
  const signal = stopped === null ? tooLong : AbortSignal.any([tooLong, stopped]);
  const over = new Promise<never>((_, reject) => {
    const end = () =>
      reject(new DeliveryFailure('again', 'The other side did not answer in time.', 'It is tried again.'));
    signal.addEventListener('abort', end, { once: true });
  });
  try {
    await Promise.race([adapter.send(message, { ...given, signal }), over]);
    return null;
  } catch (thrown) {
    if (thrown instanceof DeliveryFailure) return thrown;
    // A fault of our own must not stop the other messages, nor be kept silent.
    const where = thrown instanceof Error ? (thrown.stack ?? thrown.message) : String(thrown);
    log.error('Sending a message met a fault', {
      channel: channel.name,
      why: withoutSecrets(where, channel.settings),
    });
    return new DeliveryFailure('again', `The message could not be sent: ${messageOf(thrown)}.`, 'The log says more.', {
      cause: thrown,
    });
  }
}
