import { createServer, type Server, type Socket } from 'node:net';

const LINE_EVERY_MS = 20;

/** What the scripted board measures; a test may change it at any time. */
export interface Measured {
  diameterMm: number;
  speedMmPerS: number;
  temperatureC: number;
  setpointC: number;
  /** False = the board prints nothing, but keeps its connection. */
  talks: boolean;
  /** False = its lines have neither clock, number nor length counter. */
  counts: boolean;
}

/** A stretch of another diameter, in mm of the length counter of the board. */
export interface Stretch {
  readonly fromMm: number;
  readonly toMm: number;
  readonly diameterMm: number;
}

/**
 * A scripted network microcontroller: named reading lines with checksum at 50 Hz over TCP, one heated zone, and strand at
 * any speed. Its clock and length counter continue without a connection, as on a real line.
 */
export class ScriptedBoard {
  readonly measured: Measured = {
    diameterMm: 1.75,
    speedMmPerS: 200,
    temperatureC: 195,
    setpointC: 195,
    talks: true,
    counts: true,
  };
  port = 0;
  /** What its length counter shows, mm. */
  lengthMm = 0;
  /** Connections since the start. */
  accepted = 0;
  #stretches: Stretch[] = [];
  #server: Server | null = null;
  readonly #sockets = new Set<Socket>();
  #timer: NodeJS.Timeout | null = null;
  #startedMs = 0;
  #lastMs = 0;
  #n = 0;

  /** Connections that are open now. */
  get connections(): number {
    return this.#sockets.size;
  }

  get source(): string {
    return `tcp:127.0.0.1:${this.port}`;
  }

  async start(): Promise<this> {
    this.#startedMs = performance.now();
    this.#lastMs = this.#startedMs;
    await this.plugIn();
    this.#timer = setInterval(() => this.#print(), LINE_EVERY_MS / 2);
    return this;
  }

  /** Listens (again on the same port) until `pullOut`. */
  async plugIn(): Promise<void> {
    const server = createServer((socket) => {
      this.#sockets.add(socket);
      this.accepted++;
      socket.setNoDelay(true);
      socket.on('error', () => {});
      socket.on('close', () => this.#sockets.delete(socket));
    });
    await new Promise<void>((resolve, reject) => {
      server.once('error', reject);
      server.listen(this.port, '127.0.0.1', resolve);
    });
    this.port = (server.address() as { port: number }).port;
    this.#server = server;
  }

  /** Closes the connection and refuses new ones; the board continues to run. */
  async pullOut(): Promise<void> {
    const server = this.#server;
    this.#server = null;
    const closed = new Promise<void>((resolve) => (server === null ? resolve() : server.close(() => resolve())));
    for (const socket of this.#sockets) socket.destroy();
    await closed;
  }

  /** Puts a stretch of another diameter `aheadMm` before the gauge. @returns where it will be */
  stretch(lengthMm: number, diameterMm: number, aheadMm = 20): Stretch {
    const fromMm = this.lengthMm + aheadMm;
    const stretch = { fromMm, toMm: fromMm + lengthMm, diameterMm };
    this.#stretches.push(stretch);
    return stretch;
  }

  /** Prints a note, as firmware does at its start. */
  note(text: string): void {
    for (const socket of this.#sockets) socket.write(`# ${text}\n`);
  }

  async stop(): Promise<void> {
    if (this.#timer !== null) clearInterval(this.#timer);
    await this.pullOut();
  }

  /** Sends a line for every measuring cycle even if the timer is late, because a real board skips no strand. */
  #print(): void {
    const nowMs = performance.now();
    while (nowMs - this.#lastMs >= LINE_EVERY_MS) this.#measure(this.#lastMs + LINE_EVERY_MS);
  }

  #measure(nowMs: number): void {
    const { speedMmPerS, temperatureC, setpointC, talks, counts } = this.measured;
    this.lengthMm += (speedMmPerS * LINE_EVERY_MS) / 1000;
    this.#lastMs = nowMs;
    this.#n = (this.#n + 1) % 65_536;
    if (!talks) return;
    const at = this.#stretches.find((one) => this.lengthMm >= one.fromMm && this.lengthMm < one.toMm);
    this.#stretches = this.#stretches.filter((one) => one.toMm > this.lengthMm);
    const d = at?.diameterMm ?? this.measured.diameterMm;
    // Adds noise, because a gauge without noise counts as frozen.
    const trembling = d > 0.5 ? 0.002 * ((this.#n % 7) - 3) : 0;
    // The same for a heated zone.
    const t = temperatureC + 0.1 * ((this.#n >> 4) % 3);
    const body =
      `${counts ? `ms=${Math.round(nowMs - this.#startedMs)} n=${this.#n} len=${this.lengthMm.toFixed(1)} ` : ''}` +
      `d=${(d + trembling).toFixed(3)} t1=${t.toFixed(1)} s1=${setpointC} p1=0.4 v=${speedMmPerS.toFixed(1)}`;
    let sum = 0;
    for (const byte of Buffer.from(body, 'latin1')) sum ^= byte;
    const line = `${body}*${sum.toString(16).toUpperCase().padStart(2, '0')}\n`;
    for (const socket of this.#sockets) socket.write(line);
  }
}
