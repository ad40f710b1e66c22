import { once } from 'node:events';
import { createServer, type Server, type Socket } from 'node:net';
import type { TruthEvent } from '../../simulator/model/truth.ts';
import { BLOB, NECK, THICK_STRETCH } from '../../simulator/scenarios/defect-plans.ts';
import type { Scenario } from '../../simulator/scenarios/scenario.ts';
import { WARM_C, warmStart } from '../../simulator/scenarios/stages.ts';
import { createSimulation, type Simulation } from '../../simulator/simulation.ts';

/** A night in which something happens on the strand every few seconds, once the service has noticed that it is wound. */
function busyNight(pace: number): Scenario {
  const firstS = 60 + NOTICED_AFTER_S * pace;
  return {
    name: 'busy-night',
    title: 'A busy night',
    description: 'Warm zones, a short purge, then winding with many blobs, necks and thick stretches.',
    durationS: null,
    startC: WARM_C,
    script: warmStart,
    recurring: [
      { firstS, gapS: [8, 25], steps: [{ afterS: 0, do: 'defect', plan: BLOB }] },
      { firstS: firstS + 5, gapS: [15, 40], steps: [{ afterS: 0, do: 'defect', plan: NECK }] },
      { firstS: firstS + 50, gapS: [120, 240], steps: [{ afterS: 0, do: 'defect', plan: THICK_STRETCH }] },
    ],
  };
}

/** On the clock of the machine; it may be busy with other work. */
const NOTICED_AFTER_S = 10;
const FLOOD_BYTES = 1_000_000;
/** After so long without a line the service takes a network connection for dead, on its clock; see `tcp-source.ts`. */
const SILENCE_MS = 10_000;

/** A line as it left the board. */
export interface SentLine {
  readonly atMs: number;
  /** The length counter, mm. */
  readonly len: number;
  /** True length at the gauge, mm. */
  readonly gaugeMm: number;
  /** False = no cable, damaged on it, or sent into a connection that was given up: nobody can have read it. */
  readonly arrived: boolean;
}

/** The simulated line as a network board in real time or faster. Once started it runs on, whether or not anyone listens. */
export class NightBoard {
  readonly sent: SentLine[] = [];
  port = 0;
  /** Share of lines that the cable damages. */
  garbledShare = 0;
  readonly #simulation: Simulation;
  readonly #random: () => number;
  readonly #pace: number;
  /** Made beforehand: while it is made nothing is printed, which looks like a lost cable at a fast pace. */
  readonly #noise: Buffer;
  #server: Server | null = null;
  readonly #sockets = new Set<Socket>();
  #timer: NodeJS.Timeout | null = null;

  /** @param pace how much faster than the clock of the machine the line runs */
  constructor(seed: number, random: () => number, pace: number) {
    this.#simulation = createSimulation({ scenario: busyNight(pace), seed });
    this.#random = random;
    this.#pace = pace;
    this.#noise = Buffer.from(Array.from({ length: FLOOD_BYTES }, () => Math.floor(random() * 256)));
  }

  get connected(): boolean {
    return this.#sockets.size > 0;
  }

  /** It is switched on when someone listens for the first time. */
  async start(): Promise<void> {
    await this.plugIn();
    let startMs = Number.NaN;
    let beforeMs = Number.NaN;
    this.#timer = setInterval(() => {
      const nowMs = performance.now();
      if (Number.isNaN(startMs) && this.connected) startMs = nowMs;
      // A busy machine let this process stand: what it sends now goes into a connection that the service has given up.
      const isGivenUp = (nowMs - beforeMs) * this.#pace > SILENCE_MS;
      beforeMs = nowMs;
      while (this.#simulation.timeS < ((performance.now() - startMs) / 1000) * this.#pace) this.#print(isGivenUp);
    }, 10);
  }

  async plugIn(): Promise<void> {
    const server = createServer((socket) => {
      this.#sockets.add(socket);
      socket.setNoDelay(true);
      socket.on('error', () => {});
      socket.on('close', () => this.#sockets.delete(socket));
      socket.resume();
    });
    server.listen(this.port, '127.0.0.1');
    await once(server, 'listening');
    this.port = (server.address() as { port: number }).port;
    this.#server = server;
  }

  pullOut(): void {
    this.#server?.close();
    this.#server = null;
    for (const socket of this.#sockets) socket.destroy();
    this.#sockets.clear();
  }

  /** Sends what is no line, as fast as the connection takes it. */
  flood(): void {
    for (const socket of this.#sockets) socket.write(this.#noise);
    for (const socket of this.#sockets) socket.write('\n');
  }

  truth(): readonly TruthEvent[] {
    return this.#simulation.truth();
  }

  /** Nothing is printed any more; the cable stays plugged in, so that all of it arrives. */
  switchOff(): void {
    if (this.#timer !== null) clearInterval(this.#timer);
    this.#timer = null;
  }

  stop(): void {
    this.switchOff();
    this.pullOut();
  }

  #print(isGivenUp: boolean): void {
    const text = this.#simulation.step();
    const len = Number(/\blen=([\d.]+)/.exec(text)?.[1]);
    const isGarbled = this.#random() < this.garbledShare;
    // The lines have checksums, so a changed digit cannot be believed.
    const arriving = isGarbled ? text.replace(/\d/, (digit) => String((Number(digit) + 5) % 10)) : text;
    for (const socket of this.#sockets) socket.write(arriving, 'latin1');
    const arrived = this.#sockets.size > 0 && !isGarbled && !isGivenUp;
    this.sent.push({ atMs: performance.now(), len, gaugeMm: this.#simulation.line.gaugeMm, arrived });
  }
}
