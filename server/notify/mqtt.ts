import type { IClientOptions, MqttClient } from 'mqtt';
import type { MqttSettings } from '../escalation/channel.ts';
import { linkOf } from '../escalation/message.ts';
import { type ChannelAdapter, DeliveryFailure, type LineStanding } from './delivery.ts';
import { asNetworkFailure } from './network-errors.ts';
import { trusted } from './trusted.ts';

const CONNECT_WITHIN_MS = 8000;
const TRY_AGAIN_EVERY_MS = 5000;
const KEEP_ALIVE_S = 20;

/**
 * MQTT 3.1.1. Topics below the base topic:
 *
 *   monitor    retained  `watching`, `stopped` (in order), `gone` (the broker's last will: nobody watches)
 *   state      retained  JSON: the sentence of state, how loud it is, the alarms that stand
 *   messages   QoS 1     JSON: each message, with a key by which a copy is known
 *
 * The connection is held, for the last will depends on it.
 */
export class Mqtt implements ChannelAdapter {
  readonly #settings: MqttSettings;
  readonly #report: ((failure: DeliveryFailure | null) => void) | null;
  #client: MqttClient | null = null;
  #opening: Promise<MqttClient> | null = null;
  #stopped = false;
  #trouble: DeliveryFailure | null = null;
  #shown = '';
  #standing: LineStanding | null = null;

  /**
   * @param report hears when the connection is made or lost; null = only to try a message: nothing is said of who
   * watches, and no last will left, for the topics may be those of a channel at work
   */
  constructor(settings: MqttSettings, report: ((failure: DeliveryFailure | null) => void) | null) {
    this.#settings = settings;
    this.#report = report;
  }

  start(): void {
    this.#open().catch((thrown: unknown) => this.#failed(thrown));
  }

  async stop(): Promise<void> {
    this.#stopped = true;
    const client = await this.#opening;
    this.#client = null;
    if (client === null) return;
    // Ended on purpose is not gone: the last will is not sent then, so this must be.
    if (client.connected && this.#report !== null)
      await within(client.publishAsync(this.#topic('monitor'), 'stopped', KEPT), 1000);
    await within(client.endAsync(!client.connected), 2000);
  }

  show(standing: LineStanding): void {
    this.#standing = standing;
    const text = JSON.stringify(standing);
    if (this.#client?.connected !== true || text === this.#shown) return;
    this.#shown = text;
    // What it says is replaced by the next; a lost one is sent anew with the next connection.
    this.#client.publish(this.#topic('state'), text, KEPT, (error) => {
      if (error) this.#shown = '';
    });
  }

  async send(...[message, given]: Parameters<ChannelAdapter['send']>): Promise<void> {
    const client = await this.#open();
    if (!client.connected) await this.#connected(client, given.signal);
    const { key, kind, priority, title, text, firstCheck, caution, lineName, atMs, alarmId } = message;
    const link = linkOf(message, given.pageAddress);
    const body = { key, kind, priority, title, text, firstCheck, caution, line: lineName, atMs, alarm: alarmId, link };
    try {
      await client.publishAsync(this.#topic('messages'), JSON.stringify(body), { qos: 1 });
    } catch (thrown) {
      throw this.#inText(thrown, given.signal);
    }
  }

  #open(): Promise<MqttClient> {
    this.#opening ??= this.#connect();
    return this.#opening;
  }

  async #connect(): Promise<MqttClient> {
    // Loaded when it is needed: a service without a broker starts the sooner.
    const { connect } = await import('mqtt');
    const { address, user, password, certificate } = this.#settings;
    const ca = trusted(certificate);
    const options: IClientOptions = {
      protocolVersion: 4,
      clean: true,
      keepalive: KEEP_ALIVE_S,
      connectTimeout: CONNECT_WITHIN_MS,
      reconnectPeriod: TRY_AGAIN_EVERY_MS,
      // What waits is kept in the outbox; a second queue in memory would only grow.
      queueQoSZero: false,
      ...(this.#report === null
        ? {}
        : { will: { topic: this.#topic('monitor'), payload: Buffer.from('gone'), ...KEPT } }),
      ...(user === '' ? {} : { username: user, password }),
      ...(ca === undefined ? {} : { ca }),
    };
    const client = connect(address, options);
    this.#client = client;
    client.on('connect', () => {
      this.#trouble = null;
      if (this.#report === null) return;
      this.#shown = '';
      client.publish(this.#topic('monitor'), 'watching', KEPT);
      if (this.#standing !== null) this.show(this.#standing);
      this.#report(null);
    });
    client.on('error', (error) => this.#failed(error));
    client.on('close', () => {
      if (!this.#stopped) this.#failed(this.#trouble ?? new Error('the connection was closed'));
    });
    return client;
  }

  #failed(thrown: unknown): void {
    this.#trouble = this.#inText(thrown, null);
    this.#report?.(this.#trouble);
  }

  #connected(client: MqttClient, signal: AbortSignal): Promise<void> {
    return new Promise((resolve, reject) => {
      const over = (end: () => void) => () => {
        client.off('connect', done);
        client.off('close', failed);
        signal.removeEventListener('abort', failed);
        end();
      };
      const done = over(resolve);
      const failed = over(() => reject(this.#trouble ?? this.#inText(new Error('no connection'), signal)));
      client.once('connect', done);
      client.once('close', failed);
      signal.addEventListener('abort', failed, { once: true });
    });
  }

  #topic(name: string): string {
    return `${this.#settings.baseTopic}/${name}`;
  }

  #inText(thrown: unknown, signal: AbortSignal | null): DeliveryFailure {
    if (thrown instanceof DeliveryFailure) return thrown;
    const { host } = new URL(this.#settings.address);
    const { code } = thrown as { code?: unknown };
    // Return codes of CONNACK, MQTT 3.1.1, table 3.1.
    if (code === 4 || code === 5) {
      return new DeliveryFailure(
        'again',
        `The broker ${host} does not let us in: user name or password is wrong, or it wants them and has none.`,
        'Enter the user name and password that the broker knows.',
        { cause: thrown },
      );
    }
    return asNetworkFailure(thrown, `the broker ${host}`, signal ?? NEVER);
  }
}

const KEPT = { qos: 1, retain: true } as const;
const NEVER = new AbortController().signal;

/** Waits for something, but not for ever; what becomes of it does not matter then. */
async function within(promise: Promise<unknown>, ms: number): Promise<void> {
  let timer: NodeJS.Timeout | undefined;
  const enough = new Promise<void>((resolve) => {
    timer = setTimeout(resolve, ms);
  });
  try {
    await Promise.race([promise, enough]);
  } catch {
    // The connection broke while it was being ended: it is ended.
  }
  clearTimeout(timer);
}
