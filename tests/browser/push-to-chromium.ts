import { once } from 'node:events';
import { createServer, type IncomingMessage, type ServerResponse } from 'node:http';
import type { AddressInfo, Server } from 'node:net';
import { createServer as createTlsServer, type TLSSocket } from 'node:tls';
import type { PushService } from './push-service.ts';

/** Kinds of messages on the stream, and its version: `google_apis/gcm/base/mcs_util.h` of Chromium. */
const [LOGIN_ANSWER, DATA, VERSION] = [3, 8, 41];

/**
 * How Chromium subscribes and is sent messages: two requests, and a stream of messages over TLS. The fields are those of
 * `checkin.proto` and `mcs.proto` in `google_apis/gcm/protocol/` of Chromium.
 */
export class PushToChromium {
  readonly #push: PushService;
  readonly #requests = createServer((request, reply) => void this.#register(request, reply));
  readonly #stream: Server;
  #browser: TLSSocket | null = null;
  #sent = 0;

  /** @param certificate of `localhost`, which the browser trusts */
  constructor(push: PushService, certificate: { readonly cert: string; readonly key: string }) {
    this.#push = push;
    this.#stream = createTlsServer(certificate, (browser) => {
      this.#browser = browser;
      browser.on('error', () => {});
      browser.once('data', () =>
        browser.write(Buffer.concat([Buffer.from([VERSION]), framed(LOGIN_ANSWER, text(1, 'any'))])),
      );
    });
  }

  /** @returns the arguments by which Chromium uses it */
  async start(): Promise<readonly string[]> {
    for (const server of [this.#requests, this.#stream]) {
      server.listen(0, '127.0.0.1');
      await once(server, 'listening');
    }
    const [requests, stream] = [this.#requests, this.#stream].map((one) => (one.address() as AddressInfo).port);
    return [
      `--gcm-checkin-url=http://127.0.0.1:${requests}/checkin`,
      `--gcm-registration-url=http://127.0.0.1:${requests}/register`,
      `--gcm-mcs-endpoint=https://localhost:${stream}`,
    ];
  }

  stop(): void {
    this.#browser?.destroy();
    this.#requests.closeAllConnections();
    this.#requests.close();
    this.#stream.close();
  }

  async #register(request: IncomingMessage, reply: ServerResponse): Promise<void> {
    const fields = new URLSearchParams(Buffer.concat(await request.toArray()).toString());
    if (request.url === '/checkin') {
      // Accepted, the time, and the number and secret of the device.
      reply.end(Buffer.concat([number(1, 1), number(3, Date.now()), fixed(7, 4711n), fixed(8, 815n)]));
      return;
    }
    const [app = '', page = '', sender = ''] = ['app', 'X-subtype', 'sender'].map((name) => fields.get(name) ?? '');
    const token = `chromium-${this.#push.subscribed}`;
    // Chromium also registers something else, without a page.
    if (page !== '')
      this.#push.subscribe(token, { senderKey: sender, pass: (body) => this.#pass(app, page, sender, body) });
    reply.end(`token=${token}`);
  }

  #pass(app: string, page: string, sender: string, body: Buffer): void {
    this.#sent += 1;
    const entry = (name: string, value: string) => text(7, Buffer.concat([text(1, name), text(2, value)]));
    const about = [text(3, sender), text(5, app), entry('subtype', page), entry('content-encoding', 'aes128gcm')];
    this.#browser?.write(framed(DATA, Buffer.concat([...about, text(9, `message-${this.#sent}`), text(21, body)])));
  }
}

/** Protocol buffers, https://protobuf.dev/programming-guides/encoding/: base-128 numbers, fields of numbers, of 8 bytes, of text. */
function varint(value: number): Buffer {
  return Buffer.from(value < 128 ? [value] : [(value % 128) + 128, ...varint(Math.floor(value / 128))]);
}
const number = (field: number, value: number) => Buffer.concat([varint(field * 8), varint(value)]);
function fixed(field: number, value: bigint): Buffer {
  const bytes = Buffer.alloc(8);
  bytes.writeBigUInt64LE(value);
  return Buffer.concat([varint(field * 8 + 1), bytes]);
}
function text(field: number, value: string | Buffer): Buffer {
  const bytes = Buffer.from(value);
  return Buffer.concat([varint(field * 8 + 2), varint(bytes.length), bytes]);
}
const framed = (kind: number, message: Buffer) => Buffer.concat([Buffer.from([kind]), varint(message.length), message]);
