import { isDeepStrictEqual } from 'node:util';
import { type Channel, type ChannelSettings, type ChannelState, withoutSecrets } from '../escalation/channel.ts';
import type { Message, Picture } from '../escalation/message.ts';
import type { PeopleStore } from '../escalation/people-store.ts';
import type { Clock } from '../monitor/clock.ts';
import type { Log } from '../monitor/log.ts';
import { RecordGuard } from '../monitor/record-guard.ts';
import { Problem } from '../problem/problem.ts';
import { ChannelQueue } from './channel-queue.ts';
import type { ChannelAdapter, LineStanding } from './delivery.ts';
import { handOver } from './hand-over.ts';
import type { Outbox } from './outbox.ts';

export interface ChannelQueuesParts {
  readonly store: PeopleStore;
  readonly outbox: Outbox;
  readonly clock: Clock;
  readonly log: Log;
  /** How long one attempt may take, ms. */
  readonly attemptMs: number;
  /** `report` is null where the adapter only serves a trial. */
  openAdapter(channel: Channel, report: ChannelQueue['report'] | null): ChannelAdapter;
  pageAddress(): string;
  picture(message: Message): Promise<Picture | null>;
  /** A channel began to fail. */
  failing(channel: Channel, state: ChannelState): void;
  /** A channel's other end is gone, and so is the channel. */
  gone(channel: Channel, why: string): void;
}

/** One lane for each channel; what is known of how they work. */
export class ChannelQueues {
  readonly #parts: ChannelQueuesParts;
  readonly #queues = new Map<number, { readonly queue: ChannelQueue; readonly channel: Channel }>();
  readonly #guard: RecordGuard;
  /** What the last test went through with, before it is added or changed to. */
  #tested: ChannelSettings | null = null;

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
    this.#guard.retry(true);
  }

  show(standing: LineStanding): void {
    for (const { queue } of this.#queues.values()) queue.show(standing);
  }

  kick(channelIds: Iterable<number>): void {
    for (const id of channelIds) this.#queues.get(id)?.queue.kick();
  }

  stateOf(channelId: number): ChannelState {
    return this.#queues.get(channelId)?.queue.state ?? untried(this.#parts.clock());
  }

  failing(): ReadonlySet<number> {
    const ids = [...this.#queues].filter(([, { queue }]) => queue.state.phase === 'failing').map(([id]) => id);
    return new Set(ids);
  }

  /** A new channel, or one that was changed: what waits for it is tried at once. */
  async put(channel: Channel): Promise<void> {
    await this.#queues.get(channel.id)?.queue.stop();
    this.#parts.outbox.hurry(channel.id);
    this.#open(channel, undefined);
    if (isDeepStrictEqual(channel.settings, this.#tested)) this.#queues.get(channel.id)?.queue.tried(null);
    this.#tested = null;
  }

  async remove(channelId: number, why: string): Promise<void> {
    const found = this.#queues.get(channelId);
    this.#queues.delete(channelId);
    this.#parts.outbox.drop(channelId, why);
    await found?.queue.stop();
  }

  /**
   * Sends one message past the outbox and waits for what becomes of it.
   * @throws Problem `channel-failed`
   */
  async trial(channel: Channel, message: Message): Promise<void> {
    const { openAdapter, pageAddress, clock, log, attemptMs } = this.#parts;
    const known = this.#queues.get(channel.id);
    const same = known !== undefined && JSON.stringify(known.channel.settings) === JSON.stringify(channel.settings);
    const adapter = openAdapter(channel, null);
    const given = { pageAddress: pageAddress(), picture: async () => null };
    const failure = await handOver({ adapter, channel, log }, message, given, attemptMs);
    await adapter.stop?.();
    if (same) known.queue.tried(failure);
    this.#tested = failure === null ? channel.settings : null;
    if (failure === null) return;
    log.warn('A test message was not taken', { channel: channel.name, at: clock() });
    throw new Problem('channel-failed', withoutSecrets(failure.message, channel.settings), failure.remedy);
  }

  #open(channel: Channel, state: ChannelState | undefined): void {
    const { outbox, clock, log, attemptMs, openAdapter, pageAddress, picture, failing, gone, store } = this.#parts;
    const known = state ?? untried(clock());
    let phase = known.phase;
    const queue: ChannelQueue = new ChannelQueue({
      channel,
      adapter: openAdapter(channel, (failure) => queue.report(failure)),
      outbox,
      clock,
      log,
      attemptMs,
      state: known,
      pageAddress,
      picture,
      stateChanged: (next) => {
        this.#guard.write('the state of a channel', () => store.saveChannelState(channel.id, next));
        const began = next.phase === 'failing' && phase !== 'failing';
        phase = next.phase;
        if (began) failing(channel, next);
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
