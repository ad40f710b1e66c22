import { randomBytes } from 'node:crypto';
import { once } from 'node:events';
import type { AddressInfo } from 'node:net';
import { type WebSocket, WebSocketServer } from 'ws';
import type { PushService } from './push-service.ts';

/** What Firefox says to its push service. */
interface FromBrowser {
  readonly messageType?: 'hello' | 'register' | 'unregister' | 'ack';
  readonly channelID?: string;
  readonly key?: string;
  readonly updates?: readonly { readonly version: string; readonly code: number }[];
}

/** Codes of acknowledgements, as Firefox 153 has them (`PushServiceWebSocket.sys.mjs`). */
const OUTCOMES: Readonly<Record<number, string>> = { 100: 'delivered', 101: 'not decrypted', 102: 'not delivered' };

/** How Firefox subscribes and is sent messages: over a WebSocket, as https://mozilla-services.github.io/autopush-rs has it. */
export class PushToFirefox {
  /** What Firefox says became of each message. */
  readonly outcomes: (string | undefined)[] = [];
  readonly #push: PushService;
  readonly #server = new WebSocketServer({ host: '127.0.0.1', port: 0, handleProtocols: () => 'push-notification' });

  constructor(push: PushService) {
    this.#push = push;
  }

  /** @returns the settings by which Firefox uses it */
  async start(): Promise<Record<string, string | boolean>> {
    this.#server.on('connection', (browser) =>
      browser.on('message', (data) => this.#answer(browser, JSON.parse(String(data)))),
    );
    if (this.#server.address() === null) await once(this.#server, 'listening');
    return {
      // A browser that is driven usually has none.
      'dom.push.connection.enabled': true,
      'dom.push.serverURL': `ws://127.0.0.1:${(this.#server.address() as AddressInfo).port}/`,
      'dom.push.testing.allowInsecureServerURL': true,
    };
  }

  stop(): void {
    for (const browser of this.#server.clients) browser.terminate();
    this.#server.close();
  }

  #answer(browser: WebSocket, { messageType, channelID = '', key = '', updates = [] }: FromBrowser): void {
    const send = (message: object) => browser.send(JSON.stringify(message));
    const answer = (fields: object) => send({ messageType, status: 200, ...fields });
    const pass = (body: Buffer) => {
      const version = randomBytes(8).toString('hex');
      const [data, headers] = [body.toString('base64url'), { encoding: 'aes128gcm' }];
      send({ messageType: 'notification', channelID, version, data, headers });
    };
    if (messageType === undefined) send({});
    if (messageType === 'hello') answer({ uaid: randomBytes(16).toString('hex'), use_webpush: true });
    if (messageType === 'register') {
      // The key comes with padding.
      const senderKey = key.replace(/=+$/, '');
      answer({ channelID, pushEndpoint: this.#push.subscribe(channelID, { senderKey, pass }) });
    }
    if (messageType === 'unregister') {
      this.#push.unsubscribe(channelID);
      answer({ channelID });
    }
    if (messageType === 'ack') this.outcomes.push(...updates.map(({ code }) => OUTCOMES[code]));
  }
}
