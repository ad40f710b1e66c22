import type { IClientOptions, MqttClient } from 'mqtt';
import type { MqttSettings } from '../escalation/channel.ts';
import { linkOf } from '../escalation/message.ts';
import { type ChannelAdapter, DeliveryFailure, type LineStatus, RETRIED } from './delivery.ts';
import { asNetworkFailure } from './network-errors.ts';
import { trusted } from './trusted.ts';

const CONNECT_WITHIN_MS = 8000;
const TRY_AGAIN_EVERY_MS = 5000;
const KEEP_ALIVE_S = 20;

/** A broker that acknowledges nothing for so long hangs: the connection is given up. */
const ACKNOWLEDGES_WITHIN_MS = 15_000;

/**
 * MQTT 3.1.1. Topics below the base topic:
 *
 *   monitor    retained  `watching`, `stopped` (on purpose), `gone` (the broker's last will: the service is down)
 *   state      retained  JSON: the headline, how urgent it is, the current alarms
 *   messages   QoS 1     JSON: each message, with a key that marks a copy
 *
 * The connection stays open, because the last will depends on it. Each connection has a new client: one that reconnects would
 * send all again that was not acknowledged, and so does the outbox.
 */
export class Mqtt implements ChannelAdapter {
  readonly #settings: MqttSettings;
  readonly #report: ((failure: DeliveryFailure | null) => void) | null;
  readonly #acknowledgesWithinMs: number;
  #client: MqttClient | null = null;
  #opening: Promise<MqttClient> | null = null;
  #again: NodeJS.Timeout | undefined;
  #stopped = false;
  #failure: DeliveryFailure | null = null;
  /** Messages that the broker has not acknowledged yet. */
  #sending = 0;
  #shown = '';
  /** Runs while the broker has not acknowledged a state. */
  #showing: NodeJS.Timeout | null = null;
  #status: LineStatus | null = null;

  /**
   * @param report is called when the connection is made or lost; null = for a test message: nothing is then published
   * under `monitor` and no last will is left, because another channel may be using these topics
   */
  constructor(
    settings: MqttSettings,
    report: ((failure: DeliveryFailure | null) => void) | null,
    acknowledgesWithinMs = ACKNOWLEDGES_WITHIN_MS,
  ) {
    this.#settings = settings;
    this.#report = report;
    this.#acknowledgesWithinMs = acknowledgesWithinMs;
  }

  start(): void {
    this.#open().catch((thrown: unknown) => this.#connectionFailed(thrown));
  }

  async stop(): Promise<void> {
    this.#stopped = true;
    clearTimeout(this.#again);
    const client = await this.#opening;
    if (client === null) return;
    // After an orderly disconnect the broker does not send the last will, so this says that no one is watching.
    const isAnswering =
      client.connected &&
      (this.#report === null || (await within(client.publishAsync(this.#topic('monitor'), 'stopped', RETAINED), 1000)));
    if (!isAnswering || !(await within(client.endAsync(), 2000))) this.#giveUp(client);
  }

  show(status: LineStatus): void {
    this.#status = status;
    const client = this.#client;
    const text = JSON.stringify(status);
    // Each state replaces the one before, so only the latest waits.
    if (client?.connected !== true || this.#showing !== null || text === this.#shown) return;
    const showing = setTimeout(() => this.#giveUp(client), this.#acknowledgesWithinMs);
    this.#showing = showing;
    client.publish(this.#topic('state'), text, RETAINED, (error) => {
      clearTimeout(showing);
      if (this.#showing !== showing) return;
      this.#showing = null;
      if (!error) this.#shown = text;
    });
  }

  async send(...[message, context]: Parameters<ChannelAdapter['send']>): Promise<void> {
    const client = await this.#open();
    const { signal } = context;
    if (!client.connected) await this.#connected(client, signal);
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
    this.#sending += 1;
    try {
      const acknowledged = client.publishAsync(this.#topic('messages'), JSON.stringify(body), { qos: 1 });
      await Promise.race([acknowledged, rejectionOf(signal)]);
    } catch (thrown) {
      throw this.#asFailure(thrown, signal);
    } finally {
      this.#sending -= 1;
      // The client would keep the message; the outbox sends it again. Another one may still be acknowledged.
      if (signal.aborted && this.#sending === 0) this.#giveUp(client);
    }
  }

  #open(): Promise<MqttClient> {
    this.#opening ??= this.#connect();
    return this.#opening;
  }

  async #connect(): Promise<MqttClient> {
    clearTimeout(this.#again);
    // Loaded when it is needed, to keep the start short.
    const { connect } = await import('mqtt');
    const { address, user, password, certificate } = this.#settings;
    const ca = trusted(certificate);
    const options: IClientOptions = {
      protocolVersion: 4,
      clean: true,
      keepalive: KEEP_ALIVE_S,
      connectTimeout: CONNECT_WITHIN_MS,
      reconnectPeriod: 0,
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
    client.once('close', () => this.#lost(client));
    return client;
  }

  /** Ends a connection at once, with all that was not acknowledged. */
  #giveUp(client: MqttClient): void {
    const { host } = new URL(this.#settings.address);
    this.#failure ??= new DeliveryFailure('retry', `The broker ${host} does not acknowledge messages.`, RETRIED);
    this.#lost(client);
    // `end` does nothing while an orderly end waits for acknowledgements.
    client.stream.destroy();
    client.end(true);
  }

  #lost(client: MqttClient): void {
    if (client !== this.#client) return;
    this.#client = null;
    this.#opening = null;
    clearTimeout(this.#showing ?? undefined);
    this.#showing = null;
    if (this.#stopped) return;
    this.#connectionFailed(this.#failure ?? new Error('the connection was closed'));
    if (this.#report !== null) this.#again = setTimeout(() => this.start(), TRY_AGAIN_EVERY_MS);
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

/** Rejects when the signal is aborted. */
function rejectionOf(signal: AbortSignal): Promise<never> {
  return new Promise((_, reject) => {
    signal.addEventListener('abort', () => reject(signal.reason), { once: true });
    if (signal.aborted) reject(signal.reason);
  });
}

/** Waits for something for a limited time. @returns whether it succeeded in that time */
async function within(promise: Promise<unknown>, ms: number): Promise<boolean> {
  let timer: NodeJS.Timeout | undefined;
  const timeout = new Promise<boolean>((resolve) => {
    timer = setTimeout(() => resolve(false), ms);
  });
  const succeeded = promise.then(
    () => true,
    // The connection broke while it was being closed: that closes it too.
    () => false,
  );
  const outcome = await Promise.race([succeeded, timeout]);
  clearTimeout(timer);
  return outcome;
}
