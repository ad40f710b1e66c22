import { randomBytes } from 'node:crypto';
import { once } from 'node:events';
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';
import WebSocket, { WebSocketServer } from 'ws';

/** What Firefox says to its push service. */
interface FromBrowser {
  readonly messageType?: 'hello' | 'register' | 'unregister' | 'ack';
  readonly channelID?: string;
  readonly key?: string;
  readonly updates?: readonly { readonly version: string; readonly code: number }[];
}

/** Codes of acknowledgements, as Firefox 153 has them (`PushServiceWebSocket.sys.mjs`). */
const OUTCOMES: Readonly<Record<number, string>> = { 100: 'delivered', 101: 'not decrypted', 102: 'not delivered' };

interface Subscription {
  readonly browser: WebSocket;
  /** Public key of the only sender that may use it (RFC 8292, section 4). */
  readonly senderKey: string | undefined;
}

/**
 * A push service on loopback for one Firefox: subscriptions and messages go over a WebSocket to the browser, as
 * https://mozilla-services.github.io/autopush-rs describes it; senders post to an address (RFC 8030). It cannot read what it
 * passes on.
 */
export class PushService {
  /** Bodies that were posted, still encrypted. */
  readonly posted: Buffer[] = [];
  /** What the browser says became of each message. */
  readonly acknowledged: (string | undefined)[] = [];
  /** How often a page has subscribed. */
  subscribed = 0;
  readonly #subscriptions = new Map<string, Subscription>();
  readonly #server = createServer((request, reply) => void this.#accept(request, reply));

  async start(): Promise<this> {
    new WebSocketServer({ server: this.#server, handleProtocols: () => 'push-notification' }).on(
      'connection',
      (browser) => browser.on('message', (data) => this.#answer(browser, JSON.parse(String(data)))),
    );
    this.#server.listen(0, '127.0.0.1');
    await once(this.#server, 'listening');
    return this;
  }

  /** Without its scheme. */
  get address(): string {
    return `127.0.0.1:${(this.#server.address() as AddressInfo).port}`;
  }

  stop(): void {
    for (const { browser } of this.#subscriptions.values()) browser.terminate();
    this.#server.closeAllConnections();
    this.#server.close();
  }

  #answer(browser: WebSocket, { messageType, channelID = '', key, updates = [] }: FromBrowser): void {
    const answer = (fields: object) => browser.send(JSON.stringify({ messageType, status: 200, ...fields }));
    if (messageType === undefined) browser.send('{}');
    if (messageType === 'hello') answer({ uaid: randomBytes(16).toString('hex'), use_webpush: true });
    if (messageType === 'register') {
      this.subscribed += 1;
      // The key comes with padding.
      this.#subscriptions.set(channelID, { browser, senderKey: key?.replace(/=+$/, '') });
      answer({ channelID, pushEndpoint: `http://${this.address}/push/${channelID}` });
    }
    if (messageType === 'unregister') {
      this.#subscriptions.delete(channelID);
      answer({ channelID });
    }
    if (messageType === 'ack') this.acknowledged.push(...updates.map(({ code }) => OUTCOMES[code]));
  }

  async #accept(request: IncomingMessage, reply: ServerResponse): Promise<void> {
    const channelID = (request.url ?? '').slice('/push/'.length);
    const subscription = this.#subscriptions.get(channelID);
    const [, senderKey] = /^vapid .*\bk=([\w-]+)/.exec(request.headers.authorization ?? '') ?? [];
    const body = Buffer.concat(await request.toArray());
    if (subscription === undefined || subscription.browser.readyState !== WebSocket.OPEN) {
      reply.writeHead(410).end();
      return;
    }
    if (subscription.senderKey !== senderKey) {
      reply.writeHead(403).end();
      return;
    }
    this.posted.push(body);
    this.#pass(channelID, subscription, body);
    reply.writeHead(201).end();
  }

  /** Sends every browser what nobody has posted. */
  forge(body: Buffer): void {
    for (const [channelID, subscription] of this.#subscriptions) this.#pass(channelID, subscription, body);
  }

  #pass(channelID: string, { browser }: Subscription, body: Buffer): void {
    const version = randomBytes(8).toString('hex');
    const [data, headers] = [body.toString('base64url'), { encoding: 'aes128gcm' }];
    browser.send(JSON.stringify({ messageType: 'notification', channelID, version, data, headers }));
  }
}
