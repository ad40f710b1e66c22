import { once } from 'node:events';
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo } from 'node:net';

interface Subscription {
  /** Public key of the only sender that may use it (RFC 8292, section 4). */
  readonly senderKey: string;
  /** Passes a message on to the browser. */
  readonly pass: (body: Buffer) => void;
}

/**
 * A push service on loopback: senders post to an address (RFC 8030), and a browser gets it in its own way. It cannot read
 * what it passes on.
 */
export class PushService {
  /** Bodies that were posted, still encrypted. */
  readonly posted: Buffer[] = [];
  /** How often a page has subscribed. */
  subscribed = 0;
  readonly #subscriptions = new Map<string, Subscription>();
  readonly #server = createServer((request, reply) => void this.#accept(request, reply));

  async start(): Promise<this> {
    this.#server.listen(0, '127.0.0.1');
    await once(this.#server, 'listening');
    return this;
  }

  stop(): void {
    this.#server.closeAllConnections();
    this.#server.close();
  }

  /** @returns the address for senders */
  subscribe(name: string, subscription: Subscription): string {
    this.subscribed += 1;
    this.#subscriptions.set(name, subscription);
    return this.addressOf(name);
  }

  addressOf(name: string): string {
    return `http://127.0.0.1:${(this.#server.address() as AddressInfo).port}/push/${name}`;
  }

  unsubscribe(name: string): void {
    this.#subscriptions.delete(name);
  }

  /** Sends every browser what nobody has posted. */
  forge(body: Buffer): void {
    for (const { pass } of this.#subscriptions.values()) pass(body);
  }

  async #accept(request: IncomingMessage, reply: ServerResponse): Promise<void> {
    const subscription = this.#subscriptions.get((request.url ?? '').slice('/push/'.length));
    const [, senderKey] = /^vapid .*\bk=([\w-]+)/.exec(request.headers.authorization ?? '') ?? [];
    const body = Buffer.concat(await request.toArray());
    if (subscription?.senderKey !== senderKey || request.headers['content-encoding'] !== 'aes128gcm') {
      reply.writeHead(subscription === undefined ? 410 : 403).end();
      return;
    }
    this.posted.push(body);
    subscription?.pass(body);
    reply.writeHead(201).end();
  }
}
