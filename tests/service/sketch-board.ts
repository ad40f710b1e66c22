import { createServer, type Server, type Socket } from 'node:net';
import type { Sketch } from '../door/sketches.ts';

/** A network microcontroller that runs one of the sketches; it restarts its sketch for each connection, as a reset does. */
export class SketchBoard {
  port = 0;
  #server: Server | null = null;
  #sketch: Sketch;
  readonly #timers = new Map<Socket, NodeJS.Timeout>();

  constructor(sketch: Sketch) {
    this.#sketch = sketch;
  }

  get source(): string {
    return `tcp:127.0.0.1:${this.port}`;
  }

  async start(): Promise<this> {
    const server = createServer((socket) => {
      socket.setNoDelay(true);
      socket.on('error', () => {});
      socket.on('close', () => this.#unplug(socket));
      this.#run(socket);
    });
    await new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen(this.port, '127.0.0.1', resolve);
    });
    this.port = (server.address() as { port: number }).port;
    this.#server = server;
    return this;
  }

  /** Another sketch is loaded onto the board, which keeps its connections. */
  load(sketch: Sketch): void {
    this.#sketch = sketch;
    for (const socket of [...this.#timers.keys()]) this.#run(socket);
  }

  async stop(): Promise<void> {
    const server = this.#server;
    this.#server = null;
    const closed = new Promise<void>((resolve) => (server === null ? resolve() : server.close(() => resolve())));
    for (const socket of [...this.#timers.keys()]) socket.destroy();
    await closed;
  }

  #run(socket: Socket): void {
    this.#unplug(socket);
    const { linesPerS, print } = this.#sketch;
    let i = 0;
    this.#timers.set(
      socket,
      setInterval(() => socket.write(print(i / linesPerS, i++)), 1000 / linesPerS),
    );
  }

  #unplug(socket: Socket): void {
    clearInterval(this.#timers.get(socket));
    this.#timers.delete(socket);
  }
}
