import type { IClientOptions, MqttClient } from 'mqtt';
import type { MqttSettings } from '../escalation/channel.ts';
import { linkOf } from '../escalation/message.ts';
import { type ChannelAdapter, DeliveryFailure, type LineStatus } from './delivery.ts';
import { asNetworkFailure } from './network-errors.ts';
import { trusted } from './trusted.ts';

const CONNECT_WITHIN_MS = 8000;
const TRY_AGAIN_EVERY_MS = 5000;
const KEEP_ALIVE_S = 20;

/**
 * MQTT 3.1.1. Topics below the base topic:
 *
 *   monitor    retained  `watching`, `stopped` (on purpose), `gone` (the broker's last will: the service is down)
 *   state      retained  JSON: the headline, how urgent it is, the current alarms
 *   messages   QoS 1     JSON: each message, with a key that marks a copy
 *
 * The connection stays open, because the last will depends on it.
 */
export class Mqtt implements ChannelAdapter {
  readonly #settings: MqttSettings;
  readonly #report: ((failure: DeliveryFailure | null) => void) | null;
  #client: MqttClient | null = null;
  #opening: Promise<MqttClient> | null = null;
  #stopped = false;
  #failure: DeliveryFailure | null = null;
  #shown = '';
  #status: LineStatus | null = null;

  /**
   * @param report is called when the connection is made or lost; null = for a test message: nothing is then published
   * under `monitor` and no last will is left, because another channel may be using these topics
   */
  constructor(settings: MqttSettings, report: ((failure: DeliveryFailure | null) => void) | null) {
    this.#settings = settings;
    this.#report = report;
  }

  start(): void {
    this.#open().catch((thrown: unknown) => this.#connectionFailed(thrown));
  }

  async stop(): Promise<void> {
    this.#stopped = true;
    const client = await this.#opening;
    this.#client = null;
    if (client === null) return;
    // After an orderly disconnect the broker does not send the last will, so this says that no one is watching.
    if (client.connected && this.#report !== null)
      await within(client.publishAsync(this.#topic('monitor'), 'stopped', RETAINED), 1000);
    await within(client.endAsync(!client.connected), 2000);
  }

  show(status: LineStatus): void {
    this.#status = status;
    const text = JSON.stringify(status);
    if (this.#client?.connected !== true || text === this.#shown) return;
    this.#shown = text;
    // Each state replaces the one before; a lost one is sent again after the next connect.
    this.#client.publish(this.#topic('state'), text, RETAINED, (error) => {
      if (error) this.#shown = '';
    });
  }

  async send(...[message, context]: Parameters<ChannelAdapter['send']>): Promise<void> {
    const client = await this.#open();
    if (!client.connected) await this.#connected(client, context.signal);
    const {
      key,
      conversation,
      kind,
      urgency,
      why,
      priority,
      title,
      text,
      firstCheck,
      caution,
      lineName,
      atMs,
      alarmId,
    } = message;
    const link = linkOf(message, context.pageAddress);
    const about = { line: lineName, atMs, alarm: alarmId, link };
    const body = { key, conversation, kind, urgency, why, priority, title, text, firstCheck, caution, ...about };
    try {
      await client.publishAsync(this.#topic('messages'), JSON.stringify(body), { qos: 1 });
    } catch (thrown) {
      throw this.#asFailure(thrown, context.signal);
    }
  }

  #open(): Promise<MqttClient> {
    this.#opening ??= this.#connect();
    return this.#opening;
  }

  async #connect(): Promise<MqttClient> {
    // Loaded when it is needed, to keep the start short.
    const { connect } = await import('mqtt');
    const { address, user, password, certificate } = this.#settings;
    const ca = trusted(certificate);
    const options: IClientOptions = {
      protocolVersion: 4,
      clean: true,
      keepalive: KEEP_ALIVE_S,
      connectTimeout: CONNECT_WITHIN_MS,
      reconnectPeriod: TRY_AGAIN_EVERY_MS,
      // The outbox keeps waiting messages; a second queue in memory would only grow.
      queueQoSZero: false,
      ...(this.#report === null
        ? {}
        : { will: { topic: this.#topic('monitor'), payload: Buffer.from('gone'), ...RETAINED } }),
      ...(user === '' ? {} : { username: user, password }),
      ...(ca === undefined ? {} : { ca }),
    };
    const client = connect(address, options);
    this.#client = client;
    client.on('connect', () => {
      this.#failure = null;
      if (this.#report === null) return;
      this.#shown = '';
      client.publish(this.#topic('monitor'), 'watching', RETAINED);
      if (this.#status !== null) this.show(this.#status);
      this.#report(null);
    });
    client.on('error', (error) => this.#connectionFailed(error));
    client.on('close', () => {
      if (!this.#stopped) this.#connectionFailed(this.#failure ?? new Error('the connection was closed'));
    });
    return client;
  }

  #connectionFailed(thrown: unknown): void {
    this.#failure = this.#asFailure(thrown, null);
    this.#report?.(this.#failure);
  }

  #connected(client: MqttClient, signal: AbortSignal): Promise<void> {
    return new Promise((resolve, reject) => {
      const settle = (end: () => void) => () => {
        client.off('connect', done);
        client.off('close', failed);
        signal.removeEventListener('abort', failed);
        end();
      };
      const done = settle(resolve);
      const failed = settle(() => reject(this.#failure ?? this.#asFailure(new Error('no connection'), signal)));
      client.once('connect', done);
      client.once('close', failed);
      signal.addEventListener('abort', failed, { once: true });
    });
  }

  #topic(name: string): string {
    return `${this.#settings.baseTopic}/${name}`;
  }

  #asFailure(thrown: unknown, signal: AbortSignal | null): DeliveryFailure {
    if (thrown instanceof DeliveryFailure) return thrown;
    const { host } = new URL(this.#settings.address);
    const { code } = thrown as { code?: unknown };
    // Return codes of CONNACK, MQTT 3.1.1, table 3.1.
    if (code === 4 || code === 5) {
      return new DeliveryFailure(
        'retry',
        `The broker ${host} refuses the login: the user name or password is wrong or missing.`,
        'Enter a user name and password that the broker accepts.',
        { cause: thrown },
      );
    }
    return asNetworkFailure(thrown, `the broker ${host}`, signal ?? NEVER);
  }
}

const RETAINED = { qos: 1, retain: true } as const;
const NEVER = new AbortController().signal;

/** Waits for something for a limited time; whether it succeeds does not matter. */
async function within(promise: Promise<unknown>, ms: number): Promise<void> {
  let timer: NodeJS.Timeout | undefined;
  const timeout = new Promise<void>((resolve) => {
    timer = setTimeout(resolve, ms);
  });
  try {
    await Promise.race([promise, timeout]);
  } catch {
    // The connection broke while it was being closed: that closes it too.
  }
  clearTimeout(timer);
}
