import { createServer, type Server, type Socket } from 'node:net';
import type { Outlet } from './target.ts';

/** A client that is further behind loses lines, as a reader of a real device would. */
const BEHIND_BYTES_MAX = 1_048_576;

export interface TcpOutletOptions {
  readonly host: string;
  readonly port: number;
  /** Header line with the names of columns, sent to each client first; null = none. */
  readonly header: string | null;
  /** true = the run waits for the first client and then for the slowest, so that no client loses a line. */
  readonly waits: boolean;
}

/** Sends lines to every client that connects. */
export class TcpOutlet implements Outlet {
  readonly ended: Promise<Error | undefined>;
  readonly #options: TcpOutletOptions;
  readonly #clients = new Set<Socket>();
  #server: Server | null = null;
  #closed = false;
  #resolveEnded: (reason: Error | undefined) => void = () => {};
  #wake: () => void = () => {};

  constructor(options: TcpOutletOptions) {
    this.#options = options;
    this.ended = new Promise((resolve) => {
      this.#resolveEnded = resolve;
    });
  }

  async open(): Promise<string> {
    const server = createServer((socket) => this.#addClient(socket));
    this.#server = server;
    const { host, port } = this.#options;
    await new Promise<void>((resolve, reject) => {
      server.once('error', (error: NodeJS.ErrnoException) => {
        const remedy =
          error.code === 'EADDRINUSE'
            ? 'the port is in use; choose another one, or 0 for any'
            : error.code === 'EACCES'
              ? 'the system does not allow it; choose a port above 1023'
              : error.message;
        reject(new Error(`Cannot listen on ${host}:${port}: ${remedy}.`));
      });
      server.listen(port, host, resolve);
    });
    server.on('error', (error) => this.#resolveEnded(error));
    const address = server.address();
    const actual = typeof address === 'object' && address !== null ? address.port : port;
    return `Reading lines at tcp:${host.includes(':') ? `[${host}]` : host}:${actual}`;
  }

  async write(chunk: string): Promise<void> {
    const bytes = Buffer.from(chunk, 'latin1');
    if (this.#options.waits) while (this.#clients.size === 0 && !this.#closed) await this.#change();
    for (const client of this.#clients) {
      if (client.writableLength < BEHIND_BYTES_MAX || this.#options.waits) client.write(bytes);
    }
    if (this.#options.waits) while (this.#anyFull()) await this.#change();
  }

  async close(): Promise<void> {
    this.#closed = true;
    this.#wake();
    const server = this.#server;
    this.#server = null;
    // A client receives the remaining bytes, but cannot delay the end for long.
    await Promise.all([...this.#clients].map((client) => endOf(client)));
    if (server !== null) await new Promise((resolve) => server.close(resolve));
  }

  #addClient(socket: Socket): void {
    this.#clients.add(socket);
    socket.setNoDelay(true);
    socket.on('drain', () => this.#wake());
    // An error of one client does not end the run. `close` follows and removes the client.
    socket.on('error', () => socket.destroy());
    socket.on('close', () => {
      this.#clients.delete(socket);
      this.#wake();
    });
    // Bytes from a client are discarded, because unread bytes would delay its end.
    socket.resume();
    if (this.#options.header !== null) socket.write(Buffer.from(this.#options.header, 'latin1'));
    this.#wake();
  }

  #anyFull(): boolean {
    for (const client of this.#clients) if (client.writableNeedDrain) return true;
    return false;
  }

  #change(): Promise<void> {
    return new Promise((resolve) => {
      this.#wake = resolve;
    });
  }
}

const END_MS_MAX = 1000;

function endOf(client: Socket): Promise<void> {
  return new Promise((resolve) => {
    const timer = setTimeout(() => client.destroy(), END_MS_MAX);
    client.once('close', () => {
      clearTimeout(timer);
      resolve();
    });
    client.end(() => client.destroySoon());
  });
}
