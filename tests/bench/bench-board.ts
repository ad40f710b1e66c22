import { createServer as createTcpServer, type Socket } from 'node:net';

const LINE_EVERY_MS = 20;
const SPEED_MM_PER_S = 200;
const HEAT_C = 195;
const MARKS = 1000;

/**
 * A network board at 50 Hz that winds good strand, with a blob when asked. The thousandths of its temperature count its
 * lines, so that a reading can be distinguished from all others of the last 20 s wherever it appears.
 */
export class BenchBoard {
  readonly #sockets = new Set<Socket>();
  readonly #server = createTcpServer((socket) => {
    socket.setNoDelay(true);
    socket.on('error', () => {});
    socket.on('close', () => this.#sockets.delete(socket));
    this.#sockets.add(socket);
  });
  #timer: NodeJS.Timeout | undefined;
  #n = 0;
  #blobLines = 0;
  #firstBlobLine: ((atMs: number) => void) | null = null;
  readonly #sentMs = new Float64Array(MARKS);

  async start(): Promise<number> {
    const port = await listen(this.#server);
    this.#timer = setInterval(() => this.#print(), LINE_EVERY_MS);
    return port;
  }

  /** Five readings of 2.05 mm; gives when the first of them was sent. */
  blob(): Promise<number> {
    return new Promise((resolve) => {
      this.#firstBlobLine = resolve;
      this.#blobLines = 5;
    });
  }

  /** When the line with this temperature was sent last. */
  sentMs(temperatureC: number): number {
    return this.#sentMs[Math.round((temperatureC - HEAT_C) * MARKS)] ?? Number.NaN;
  }

  async stop(): Promise<void> {
    clearInterval(this.#timer);
    for (const socket of this.#sockets) socket.destroy();
    await new Promise((resolve) => this.#server.close(resolve));
  }

  #print(): void {
    this.#n += 1;
    const thick = this.#blobLines > 0;
    if (thick) this.#blobLines -= 1;
    const d = (thick ? 2.05 : 1.75) + 0.002 * ((this.#n % 7) - 3);
    const mark = this.#n % MARKS;
    const ms = this.#n * LINE_EVERY_MS;
    const body = `ms=${ms} n=${this.#n} d=${d.toFixed(3)} t1=${(HEAT_C + mark / MARKS).toFixed(3)} s1=${HEAT_C} p1=0.4 v=${SPEED_MM_PER_S} len=${((ms * SPEED_MM_PER_S) / 1000).toFixed(1)}`;
    let sum = 0;
    for (const byte of Buffer.from(body, 'latin1')) sum ^= byte;
    const line = `${body}*${sum.toString(16).toUpperCase().padStart(2, '0')}\n`;
    this.#sentMs[mark] = performance.now();
    for (const socket of this.#sockets) socket.write(line);
    if (thick && this.#firstBlobLine !== null) {
      this.#firstBlobLine(performance.now());
      this.#firstBlobLine = null;
    }
  }
}

interface Listening {
  listen(port: number, host: string, done: () => void): unknown;
  address(): unknown;
}

/** On any free port of this machine; gives which. */
export async function listen(server: Listening): Promise<number> {
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return (server.address() as { port: number }).port;
}
