import { randomInt } from 'node:crypto';
import type { IClientOptions, MqttClient } from 'mqtt';
import type { MqttSettings } from '../escalation/channel.ts';
import { linkOf, type Message, type MessageKind } from '../escalation/message.ts';
import type { Log } from '../monitor/log.ts';
import { asBrokerFailure, isVersionRefused, TOO_LARGE } from './broker-failure.ts';
import { type ChannelAdapter, DeliveryFailure, type LineStatus, RETRIED } from './delivery.ts';
import { trusted } from './trusted.ts';

const CONNECT_WITHIN_MS = 8000;
/** And up to as long again, so that thousands of lines that have lost their broker do not all return at once. */
const TRY_AGAIN_EVERY_MS = 5000;
const KEEP_ALIVE_S = 20;

/** A broker that acknowledges nothing for so long hangs: the connection is given up. */
const ACKNOWLEDGES_WITHIN_MS = 15_000;

/** A state is published at least so often, so that its age shows whether it is current. */
const STATE_EVERY_MS = 10_000;

/** Nothing larger is asked for: a broker only has to acknowledge. */
const INCOMING_BYTES_MAX = 64 * 1024;

/** The topics below the base topic of the messages for programs. Their schemas: `api/contract/broker.ts`. */
const REPORT_TOPICS: Readonly<Partial<Record<MessageKind, string>>> = { alarmStep: 'alarms', spoolFinished: 'spools' };

/** What else the adapter needs. */
export interface MqttParts {
  readonly log: Pick<Log, 'info'>;
  readonly acknowledgesWithinMs?: number;
  /**
   * Called when the connection is made or lost; null = for a test message: nothing is then published under `availability` and no
   * last will is left, because another channel may be using these topics.
   */
  readonly report: ((failure: DeliveryFailure | null) => void) | null;
}

/**
 * MQTT 5, or 3.1.1 if the broker refuses 5: each connection tries 5 first. Below the base topic:
 *
 *   availability  retained  watching, stopped (on purpose), gone (the broker's last will: the service is down)
 *   state         retained  the state of the line
 *   alarms, spools, messages
 *
 * The connection stays open, because the last will depends on it. Each connection has a new client: one that reconnects would
 * send all again that was not acknowledged, and so does the outbox. It subscribes to nothing, so whatever a broker sends beyond
 * acknowledgements ends the connection.
 */
export class Mqtt implements ChannelAdapter {
  readonly #settings: MqttSettings;
  readonly #parts: MqttParts;
  readonly #acknowledgesWithinMs: number;
  #client: MqttClient | null = null;
  #opening: Promise<MqttClient> | null = null;
  #again: NodeJS.Timeout | undefined;
  #stopped = false;
  #failure: DeliveryFailure | null = null;
  /** The largest packet that the broker takes. */
  #bytesMax = Number.POSITIVE_INFINITY;
  /** Messages that the broker has not acknowledged yet. */
  #sending = 0;
  /** The last state that the broker has answered. */
  #shown: Pick<LineStatus, 'atMs' | 'important'> | null = null;
  /** Runs while the broker has not acknowledged a state. */
  #showing: NodeJS.Timeout | null = null;
  #status: LineStatus | null = null;

  constructor(settings: MqttSettings, parts: MqttParts) {
    this.#settings = settings;
    this.#parts = parts;
    this.#acknowledgesWithinMs = parts.acknowledgesWithinMs ?? ACKNOWLEDGES_WITHIN_MS;
  }

  start(): void {
    this.#open().catch((thrown: unknown) => {
      // A connection that was lost has been reported.
      if (thrown !== this.#failure) this.#connectionFailed(thrown);
    });
  }

  async stop(): Promise<void> {
    this.#stopped = true;
    clearTimeout(this.#again);
    const client = this.#client;
    if (client === null) return;
    // After an orderly disconnect the broker does not send the last will, so this says that no one is watching.
    const isAnswering =
      client.connected &&
      (this.#parts.report === null ||
        (await within(client.publishAsync(this.#topic('availability'), availability('stopped'), RETAINED), 1000)));
    if (!isAnswering || !(await within(client.endAsync(), 2000))) this.#giveUp(client);
  }

  show(status: LineStatus): void {
    this.#status = status;
    const client = this.#client;
    // Each state replaces the one before, so only the latest waits.
    if (client?.connected !== true || this.#showing !== null) return;
    const shown = this.#shown;
    const isRecent = shown !== null && Math.abs(status.atMs - shown.atMs) < STATE_EVERY_MS;
    if (isRecent && shown.important === status.important) return;
    const showing = setTimeout(() => this.#giveUp(client), this.#acknowledgesWithinMs);
    this.#showing = showing;
    client.publish(this.#topic('state'), status.json(), RETAINED, (error) => {
      clearTimeout(showing);
      if (this.#showing !== showing) return;
      this.#showing = null;
      this.#shown = status;
      if (error) this.#refused(client, error);
    });
  }

  async send(...[message, context]: Parameters<ChannelAdapter['send']>): Promise<void> {
    const { signal } = context;
    let client: MqttClient | null = null;
    try {
      client = await Promise.race([this.#open(), rejectionOf(signal)]);
      const topic = REPORT_TOPICS[message.kind];
      const text = topic === undefined ? JSON.stringify(bodyOf(message, context.pageAddress)) : message.text;
      await this.#publish(client, this.#topic(topic ?? 'messages'), text, signal);
    } catch (thrown) {
      const isGivenUp = client !== this.#client && !signal.aborted && this.#failure?.isUnreached;
      throw isGivenUp ? this.#failure : this.#asFailure(thrown, signal);
    }
  }

  async #publish(client: MqttClient, topic: string, text: string, signal: AbortSignal): Promise<void> {
    const bytes = Buffer.byteLength(topic) + Buffer.byteLength(text) + PACKET_HEAD_BYTES;
    if (bytes > this.#bytesMax) throw this.#asFailure({ reasonCode: TOO_LARGE });
    this.#sending += 1;
    try {
      await Promise.race([client.publishAsync(topic, text, JSON_ONCE), rejectionOf(signal)]);
    } finally {
      this.#sending -= 1;
      // The client would keep the message; the outbox sends it again. Another one may still be acknowledged.
      if (signal.aborted && this.#sending === 0) this.#giveUp(client);
    }
  }

  #open(): Promise<MqttClient> {
    this.#opening ??= this.#connect(5);
    return this.#opening;
  }

  /** @returns the client once the broker has accepted it */
  async #connect(version: 5 | 4): Promise<MqttClient> {
    clearTimeout(this.#again);
    // Loaded when it is needed, to keep the start short.
    const { connect } = await import('mqtt');
    if (this.#stopped) throw new DeliveryFailure('retry', 'The service is being stopped.', RETRIED);
    const client = connect(this.#settings.address, this.#options(version));
    this.#client = client;
    this.#refuseWhatIsSent(client);
    client.on('disconnect', (packet) => {
      this.#failure = this.#asFailure(packet);
    });
    return new Promise((resolve, reject) => {
      client.on('connect', ({ properties }) => {
        this.#accepted(client, properties?.maximumPacketSize ?? Number.POSITIVE_INFINITY);
        resolve(client);
      });
      client.on('error', (error) => {
        if (version !== 5 || !isVersionRefused(error)) {
          this.#connectionFailed(this.#asFailure(error, NEVER, !client.connected));
          return;
        }
        this.#parts.log.info('The broker does not speak MQTT 5, so 3.1.1 is used', { host: this.#host });
        // What happens to this client is of no interest any more.
        this.#client = null;
        resolve(this.#connect(4));
      });
      client.once('close', () => {
        this.#lost(client);
        reject(this.#failure ?? this.#asFailure(new Error('the connection was closed')));
      });
    });
  }

  #options(version: 5 | 4): IClientOptions {
    const { user, password, certificate, clientCertificate = '', clientKey = '' } = this.#settings;
    const ca = trusted(certificate);
    const lastWill = { topic: this.#topic('availability'), payload: Buffer.from(availability('gone')), ...RETAINED };
    return {
      protocolVersion: version,
      clean: true,
      keepalive: KEEP_ALIVE_S,
      connectTimeout: CONNECT_WITHIN_MS,
      reconnectPeriod: 0,
      // The outbox keeps waiting messages; a second queue in memory would only grow.
      queueQoSZero: false,
      // It would keep a buffer for each number up to 65,535: 7 MB.
      writeCache: false,
      ...(version === 5 ? { properties: { maximumPacketSize: INCOMING_BYTES_MAX } } : {}),
      ...(this.#parts.report === null ? {} : { will: lastWill }),
      ...(user === '' ? {} : { username: user, password }),
      ...(ca === undefined ? {} : { ca }),
      ...(clientCertificate === '' ? {} : { cert: clientCertificate, key: clientKey }),
    };
  }

  #accepted(client: MqttClient, bytesMax: number): void {
    this.#failure = null;
    this.#bytesMax = bytesMax;
    if (this.#parts.report === null) return;
    this.#shown = null;
    client.publish(this.#topic('availability'), availability('watching'), RETAINED, (error) => {
      if (error) this.#refused(client, error);
    });
    if (this.#status !== null) this.show(this.#status);
    this.#parts.report(null);
  }

  #refuseWhatIsSent(client: MqttClient): void {
    let bytes = 0;
    const refuse = () => {
      if (client !== this.#client) return;
      this.#failure = new DeliveryFailure(
        'retry',
        `The broker ${this.#host} sends what no one asked for.`,
        'Is something other than an MQTT broker listening there?',
        { isUnreached: true },
      );
      this.#giveUp(client);
    };
    client.stream.on('data', (chunk: Buffer) => {
      bytes += chunk.length;
      if (bytes > INCOMING_BYTES_MAX) refuse();
    });
    client.on('packetreceive', ({ cmd }) => {
      bytes = 0;
      if (cmd === 'publish') refuse();
    });
  }

  /** Ends a connection at once, with all that was not acknowledged. */
  #giveUp(client: MqttClient): void {
    this.#failure ??= new DeliveryFailure('retry', `The broker ${this.#host} does not acknowledge messages.`, RETRIED, {
      isUnreached: true,
    });
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
    if (this.#parts.report !== null)
      this.#again = setTimeout(() => this.start(), randomInt(TRY_AGAIN_EVERY_MS, 2 * TRY_AGAIN_EVERY_MS));
  }

  /** What was not acknowledged before the connection was lost fails, too, and is no news. */
  #refused(client: MqttClient, error: Error): void {
    if (client === this.#client) this.#connectionFailed(error);
  }

  #connectionFailed(thrown: unknown): void {
    this.#failure = this.#asFailure(thrown);
    if (!this.#stopped) this.#parts.report?.(this.#failure);
  }

  #topic(name: string): string {
    return `${this.#settings.baseTopic}/${name}`;
  }

  get #host(): string {
    return new URL(this.#settings.address).host;
  }

  #asFailure(thrown: unknown, signal = NEVER, isLogin = false): DeliveryFailure {
    return asBrokerFailure(thrown, { host: this.#host, signal, isLogin });
  }
}

/** A message as its schema in `api/contract/broker.ts` describes it. */
function bodyOf(message: Message, pageAddress: string): object {
  const { key, conversation, kind, urgency, why, priority, title, text, firstCheck, caution } = message;
  const about = {
    line: message.lineName,
    atMs: message.atMs,
    alarm: message.alarmId,
    link: linkOf(message, pageAddress),
  };
  return { key, conversation, kind, urgency, why, priority, title, text, firstCheck, caution, ...about };
}

const availability = (status: 'watching' | 'stopped' | 'gone') => JSON.stringify({ status });

/** Of a PUBLISH packet with our properties (MQTT 5.0, section 3.3), generously. */
const PACKET_HEAD_BYTES = 64;
/** A connection by 3.1.1 leaves the properties out. */
const JSON_ONCE = { qos: 1, properties: { contentType: 'application/json', payloadFormatIndicator: true } } as const;
const RETAINED = { ...JSON_ONCE, retain: true } as const;
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
