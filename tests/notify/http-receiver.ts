import { createServer, type IncomingHttpHeaders, type Server, type ServerResponse } from 'node:http';

export interface Received {
  readonly method: string;
  readonly path: string;
  readonly headers: IncomingHttpHeaders;
  readonly body: Buffer;
  readonly atMs: number;
}

/** How it answers: a status with headers, at once or later; never (`hang`); or by breaking the connection (`break`). */
export type Answer =
  | 'hang'
  | 'break'
  | { readonly status: number; readonly headers?: Readonly<Record<string, string>>; readonly afterMs?: number };

/** A receiver on loopback. It answers with what `answerTo` returns, else with the next of `script`, else with `otherwise`. */
export class HttpReceiver {
  readonly received: Received[] = [];
  readonly script: Answer[] = [];
  otherwise: Answer = { status: 204 };
  /** An answer that depends on the request; null = the usual one. */
  answerTo: (received: Received) => Answer | null = () => null;
  #server: Server | null = null;
  port = 0;

  get url(): string {
    return `http://127.0.0.1:${this.port}/hook/t0psecret`;
  }

  async start(): Promise<this> {
    const server = createServer((request, response) => {
      const chunks: Buffer[] = [];
      request.on('data', (chunk: Buffer) => chunks.push(chunk));
      request.on('end', () => {
        const { method = '', url = '', headers } = request;
        const received = { method, path: url, headers, body: Buffer.concat(chunks), atMs: Date.now() };
        this.received.push(received);
        this.#answer(received, response);
      });
    });
    await new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen(this.port, '127.0.0.1', resolve);
    });
    this.port = (server.address() as { port: number }).port;
    this.#server = server;
    return this;
  }

  async stop(): Promise<void> {
    const server = this.#server;
    this.#server = null;
    if (server === null) return;
    server.closeAllConnections();
    await new Promise<void>((resolve) => server.close(() => resolve()));
  }

  /** Bodies as JSON, in order of arrival. */
  // biome-ignore lint/suspicious/noExplicitAny: what came is what the test examines
  get bodies(): any[] {
    return this.received.map(({ body }) => JSON.parse(body.toString('utf8')));
  }

  #answer(received: Received, response: ServerResponse): void {
    const answer = this.answerTo(received) ?? this.script.shift() ?? this.otherwise;
    if (answer === 'hang') return;
    if (answer === 'break') response.destroy();
    else setTimeout(() => response.writeHead(answer.status, answer.headers).end(), answer.afterMs ?? 0);
  }
}
