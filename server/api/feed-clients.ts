import type { WebSocket } from '@fastify/websocket';
import { SkippedFrame } from './contract/live.ts';
import { writeOnDemand } from './schemas-on-demand.ts';

/**
 * A client with more unsent bytes gets no frames until it has caught up to the second number. The kernel holds several times
 * as much, and each frame that waits here takes a kilobyte more for every client.
 */
const UNSENT_BYTES_MAX = 64 * 1024;
const CAUGHT_UP_BYTES = 16 * 1024;
const PING_EVERY_MS = 15_000;
/** RFC 6455, 7.4.1 */
const POLICY_VIOLATION = 1008;

const writeSkipped = writeOnDemand(SkippedFrame);

interface Client {
  readonly socket: WebSocket;
  /** Device or token that opened it; null = none. */
  readonly credentialId: number | null;
  skipped: number;
  alive: boolean;
}

/**
 * The open pages of a feed. Each frame is made once and sent to all. A client that cannot keep up loses frames instead of
 * filling memory, and receives their number.
 */
export class FeedClients {
  readonly #clients = new Set<Client>();
  readonly #failed: (thrown: unknown) => void;
  #timer: NodeJS.Timeout | undefined;
  #failing = false;

  /** @param failed called once for a series of frames that could not be made, which is a defect */
  constructor(failed: (thrown: unknown) => void) {
    this.#failed = failed;
  }

  start(): void {
    this.#timer = setInterval(() => this.#ping(), PING_EVERY_MS);
  }

  stop(): void {
    clearInterval(this.#timer);
    for (const { socket } of this.#clients) socket.terminate();
    this.#clients.clear();
  }

  get size(): number {
    return this.#clients.size;
  }

  /** @param first makes the frame that only this client gets at once */
  add(socket: WebSocket, credentialId: number | null, first: () => string): void {
    const client: Client = { socket, credentialId, skipped: 0, alive: true };
    this.#clients.add(client);
    socket.on('pong', () => {
      client.alive = true;
    });
    const gone = () => this.#clients.delete(client);
    socket.on('close', gone);
    socket.on('error', gone);
    this.#sendTo([client], first);
  }

  /** Closes what a device or token has open. */
  closeOf(credentialId: number): void {
    for (const client of this.#clients) {
      if (client.credentialId !== credentialId) continue;
      this.#clients.delete(client);
      client.socket.close(POLICY_VIOLATION, 'This device was removed, or its right was changed.');
    }
  }

  send(make: () => string): void {
    this.#sendTo(this.#clients, make);
  }

  #sendTo(clients: Iterable<Client>, make: () => string): void {
    let frame: Buffer;
    try {
      // Of a text, the socket would make a copy for each client that is slow.
      frame = Buffer.from(make());
    } catch (thrown) {
      if (!this.#failing) this.#failed(thrown);
      this.#failing = true;
      return;
    }
    this.#failing = false;
    for (const client of clients) this.#send(client, frame);
  }

  #send(client: Client, frame: Buffer): void {
    const { socket } = client;
    if (socket.readyState !== socket.OPEN) return;
    // A slow client fetches its chart data again after each gap, so let it drain first.
    const most = client.skipped > 0 ? CAUGHT_UP_BYTES : UNSENT_BYTES_MAX - frame.length;
    if (socket.bufferedAmount > most) {
      client.skipped += 1;
      return;
    }
    if (client.skipped > 0) {
      socket.send(writeSkipped({ kind: 'skipped', frames: client.skipped } satisfies SkippedFrame));
      client.skipped = 0;
    }
    socket.send(frame, { binary: false });
  }

  #ping(): void {
    for (const client of this.#clients) {
      if (!client.alive) {
        client.socket.terminate();
        this.#clients.delete(client);
        continue;
      }
      client.alive = false;
      client.socket.ping();
    }
  }
}
