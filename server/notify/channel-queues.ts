import { isDeepStrictEqual } from 'node:util';
import { type Channel, type ChannelSettings, type ChannelState, withoutSecrets } from '../escalation/channel.ts';
import type { Message, Picture } from '../escalation/message.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Log } from '../monitor/log.ts';
import { RecordGuard } from '../monitor/record-guard.ts';
import { Problem } from '../problem/problem.ts';
import { attemptDelivery } from './attempt-delivery.ts';
import { ChannelQueue } from './channel-queue.ts';
import { type ChannelAdapter, type LineStatus, RETRIED } from './delivery.ts';
import type { FailingChannel } from './notification-troubles.ts';
import type { Outbox } from './outbox.ts';

export interface ChannelQueuesParts {
  readonly store: PeopleStore;
  readonly outbox: Outbox;
  readonly clock: Clock;
  readonly log: Log;
  /** Longest time that one attempt may take, ms. */
  readonly attemptMs: number;
  /** `report` is null if the adapter only serves a test. */
  openAdapter(channel: Channel, report: ChannelQueue['report'] | null): ChannelAdapter;
  pageAddress(): string;
  picture(message: Message): Promise<Picture | null>;
  /** A channel started to fail. */
  failing(channel: Channel, state: ChannelState): void;
  /** The receiver of a channel no longer exists: the channel must be removed. */
  gone(channel: Channel, why: string): void;
}

/** The queue and the state of each channel. */
export class ChannelQueues {
  readonly #parts: ChannelQueuesParts;
  readonly #queues = new Map<number, { readonly queue: ChannelQueue; readonly channel: Channel }>();
  readonly #guard: RecordGuard;
  /** Settings of the last test that succeeded: a channel that is then saved with them counts as working. */
  #testedSettings: ChannelSettings | null = null;
  #tickedMs = Number.NEGATIVE_INFINITY;

  constructor(parts: ChannelQueuesParts) {
    this.#parts = parts;
    this.#guard = new RecordGuard(parts.log);
  }

  start(): void {
    const states = this.#parts.store.channelStates();
    for (const channel of this.#parts.store.channels()) this.#open(channel, states.get(channel.id));
  }

  async stop(): Promise<void> {
    await Promise.all([...this.#queues.values()].map(({ queue }) => queue.stop()));
    this.#queues.clear();
  }

  tick(): void {
    const nowMs = this.#parts.clock();
    // The clock was ahead and has been set right: no pause may last until that time.
    if (nowMs < this.#tickedMs) {
      this.#parts.outbox.correctClock();
      for (const { queue } of this.#queues.values()) queue.retryAll();
    }
    this.#tickedMs = nowMs;
    this.#guard.retry(true);
  }

  show(status: LineStatus): void {
    for (const { queue } of this.#queues.values()) queue.show(status);
  }

  kick(channelIds: Iterable<number>): void {
    for (const id of channelIds) this.#queues.get(id)?.queue.kick();
  }

  stateOf(channelId: number): ChannelState {
    return this.#queues.get(channelId)?.queue.state ?? untried(this.#parts.clock());
  }

  /** The channels that lead to programs. From memory, because alarms are sent even while the disk fails. */
  brokerIds(): number[] {
    return [...this.#queues].filter(([, { channel }]) => channel.settings.kind === 'mqtt').map(([id]) => id);
  }

  /** Those that lead to people first: a broker serves programs. From memory, because pages ask four times a second. */
  failures(): readonly FailingChannel[] {
    const failing = [...this.#queues.values()].flatMap(({ queue: { state }, channel: { name, settings } }) =>
      state.phase === 'failing' ? [{ name, kind: settings.kind, text: state.text }] : [],
    );
    return failing.sort((a, b) => Number(a.kind === 'mqtt') - Number(b.kind === 'mqtt'));
  }

  failing(): ReadonlySet<number> {
    const ids = [...this.#queues].filter(([, { queue }]) => queue.state.phase === 'failing').map(([id]) => id);
    return new Set(ids);
  }

  /** A new or changed channel: messages that wait for it are sent at once. */
  async put(channel: Channel): Promise<void> {
    await this.#queues.get(channel.id)?.queue.stop();
    this.#parts.outbox.retryNow(channel.id);
    this.#open(channel, undefined);
    if (isDeepStrictEqual(channel.settings, this.#testedSettings)) this.#queues.get(channel.id)?.queue.tested(null);
    this.#testedSettings = null;
  }

  async remove(channelId: number, why: string): Promise<void> {
    const found = this.#queues.get(channelId);
    this.#queues.delete(channelId);
    this.#parts.outbox.drop(channelId, why);
    await found?.queue.stop();
  }

  /**
   * Sends one message without the outbox and waits for the result.
   * @throws Problem `channel-failed`
   */
  async test(channel: Channel, message: Message): Promise<void> {
    const { openAdapter, pageAddress, clock, log, attemptMs } = this.#parts;
    const saved = this.#queues.get(channel.id);
    const same = saved !== undefined && JSON.stringify(saved.channel.settings) === JSON.stringify(channel.settings);
    const adapter = openAdapter(channel, null);
    const context = { pageAddress: pageAddress(), picture: async () => null };
    const failure = await attemptDelivery({ adapter, channel, log }, message, context, attemptMs);
    await adapter.stop?.();
    if (same) saved.queue.tested(failure);
    this.#testedSettings = failure === null ? channel.settings : null;
    if (failure === null) return;
    log.warn('A test message was not delivered', { channel: channel.name, at: clock() });
    // A test is not retried, and a slow receiver may have accepted it.
    const remedy = failure.remedy === RETRIED ? 'Check whether it arrived anyway. If not, try again.' : failure.remedy;
    throw new Problem('channel-failed', withoutSecrets(failure.message, channel.settings), remedy);
  }

  #open(channel: Channel, state: ChannelState | undefined): void {
    const { outbox, clock, log, attemptMs, openAdapter, pageAddress, picture, failing, gone, store } = this.#parts;
    const initial = state ?? untried(clock());
    let phase = initial.phase;
    const queue: ChannelQueue = new ChannelQueue({
      channel,
      adapter: openAdapter(channel, (failure) => queue.report(failure)),
      outbox,
      clock,
      log,
      attemptMs,
      state: initial,
      pageAddress,
      picture,
      stateChanged: (next) => {
        this.#guard.write('the state of a channel', () => store.saveChannelState(channel.id, next));
        const startedToFail = next.phase === 'failing' && phase !== 'failing';
        phase = next.phase;
        if (startedToFail) failing(channel, next);
      },
      gone: (why) => gone(channel, why),
    });
    this.#queues.set(channel.id, { queue, channel });
    queue.start();
  }
}

function untried(nowMs: number): ChannelState {
  return { phase: 'untried', sinceMs: nowMs, text: '', remedy: '', lastDeliveredMs: null };
}
