import type { WebSocket } from '@fastify/websocket';
import type { Reading } from '../reading/reading.ts';
import { valueAt } from '../reading/reading.ts';
import { ReadingsFrame, SkippedFrame, StateFrame } from './contract/live.ts';
import type { LiveState } from './contract/live-state.ts';
import { writeOnDemand } from './schemas-on-demand.ts';

/**
 * A frame of readings is sent with the first reading that arrives this long after the last frame. At 50 readings/s that is
 * every second reading, so none waits longer than one interval.
 */
const FRAME_EVERY_MS = 30;
/** Pending readings are sent after this, even if none follow. */
const MAX_FRAME_DELAY_MS = 50;
const STATE_EVERY_MS = 250;
const MAX_POINTS_PER_FRAME = 60;
/** A client with more unsent bytes gets no frames until it has caught up to the second number. */
const UNSENT_BYTES_MAX = 512 * 1024;
const CAUGHT_UP_BYTES = 64 * 1024;
const PING_EVERY_MS = 15_000;
/** RFC 6455, 7.4.1 */
const POLICY_VIOLATION = 1008;

const write = {
  readings: writeOnDemand(ReadingsFrame),
  state: writeOnDemand(StateFrame),
  skipped: writeOnDemand(SkippedFrame),
};

interface Client {
  readonly socket: WebSocket;
  /** Device or token that opened it; null = none. */
  readonly credentialId: number | null;
  skipped: number;
  alive: boolean;
}

interface PendingReading {
  readonly reading: Reading;
  readonly gaugeMm: number;
  readonly diameterMm: number;
  readonly speedMmPerS: number;
}

export interface LiveFeedOptions {
  state(): LiveState;
  /** Called once for a series of frames that could not be made, which is a defect; the line continues to be watched. */
  failed(thrown: unknown): void;
  runId(): number | null;
}

/**
 * Sends readings and state to every open page. Each frame is made once and sent to all. A client that cannot keep up
 * loses frames instead of filling memory, and receives their number.
 */
export class LiveFeed {
  readonly #options: LiveFeedOptions;
  readonly #clients = new Set<Client>();
  #pending: PendingReading[] = [];
  #timers: NodeJS.Timeout[] = [];
  #stateDue = false;
  #failing = false;
  #framedAt = Number.NEGATIVE_INFINITY;
  #frameDue = false;
  #flushTimer: NodeJS.Timeout | null = null;

  constructor(options: LiveFeedOptions) {
    this.#options = options;
  }

  start(): void {
    this.#timers = [
      setInterval(() => this.#sendState(), STATE_EVERY_MS),
      setInterval(() => this.#ping(), PING_EVERY_MS),
    ];
  }

  stop(): void {
    for (const timer of this.#timers) clearInterval(timer);
    this.#timers = [];
    if (this.#flushTimer !== null) clearTimeout(this.#flushTimer);
    for (const { socket } of this.#clients) socket.terminate();
    this.#clients.clear();
  }

  get clients(): number {
    return this.#clients.size;
  }

  add(socket: WebSocket, credentialId: number | null = null): void {
    const client: Client = { socket, credentialId, skipped: 0, alive: true };
    this.#clients.add(client);
    socket.on('pong', () => {
      client.alive = true;
    });
    const gone = () => this.#clients.delete(client);
    socket.on('close', gone);
    socket.on('error', gone);
    this.#sendTo([client], () => this.#stateFrame());
  }

  /** Closes what a device or token has open. */
  closeOf(credentialId: number): void {
    for (const client of this.#clients) {
      if (client.credentialId !== credentialId) continue;
      this.#clients.delete(client);
      client.socket.close(POLICY_VIOLATION, 'This device was removed, or its right was changed.');
    }
  }

  reading(reading: Reading, gaugeMm: number, diameterMm: number, speedMmPerS: number): void {
    if (this.#clients.size === 0) return;
    this.#pending.push({ reading, gaugeMm, diameterMm, speedMmPerS });
    // Keep a replay at full speed from filling memory between two frames.
    if (this.#pending.length >= MAX_POINTS_PER_FRAME * 8) this.#pending = downsampled(this.#pending);
    if (this.#frameDue) return;
    const since = performance.now() - this.#framedAt;
    if (since >= FRAME_EVERY_MS) {
      this.#frameDue = true;
      // Wait for the other readings of the same chunk.
      setImmediate(() => this.#sendReadings());
    } else {
      this.#flushTimer ??= setTimeout(() => this.#sendReadings(), MAX_FRAME_DELAY_MS - since);
    }
  }

  /** Sends the state soon, because something urgent changed; at most once per turn of the event loop. */
  changed(): void {
    if (this.#stateDue || this.#clients.size === 0) return;
    this.#stateDue = true;
    setImmediate(() => this.#sendState());
  }

  #sendState(): void {
    this.#stateDue = false;
    if (this.#clients.size === 0) return;
    this.#sendTo(this.#clients, () => this.#stateFrame());
  }

  #stateFrame(): string {
    return write.state({ kind: 'state', state: this.#options.state() } satisfies StateFrame);
  }

  #sendReadings(): void {
    this.#frameDue = false;
    if (this.#flushTimer !== null) clearTimeout(this.#flushTimer);
    this.#flushTimer = null;
    if (this.#pending.length === 0) return;
    this.#framedAt = performance.now();
    const pending = this.#pending.length > MAX_POINTS_PER_FRAME ? downsampled(this.#pending) : this.#pending;
    this.#pending = [];
    this.#sendTo(this.#clients, () => write.readings(frameOf(pending, this.#options.runId())));
  }

  #sendTo(clients: Iterable<Client>, make: () => string): void {
    let frame: Buffer;
    try {
      // Of a text, the socket would make a copy for each client that is slow.
      frame = Buffer.from(make());
    } catch (thrown) {
      if (!this.#failing) this.#options.failed(thrown);
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
      socket.send(write.skipped({ kind: 'skipped', frames: client.skipped } satisfies SkippedFrame));
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

/** Keeps the readings with the smallest and the largest diameter of each group, in order. */
function downsampled(pending: readonly PendingReading[]): PendingReading[] {
  const size = Math.ceil(pending.length / (MAX_POINTS_PER_FRAME / 2));
  const kept: PendingReading[] = [];
  for (let from = 0; from < pending.length; from += size) {
    const group = pending.slice(from, from + size);
    // Prefer any number to a gap (NaN).
    const low = group.reduce((a, b) => (b.diameterMm < a.diameterMm || Number.isNaN(a.diameterMm) ? b : a));
    const high = group.reduce((a, b) => (b.diameterMm > a.diameterMm || Number.isNaN(a.diameterMm) ? b : a));
    if (low === high) kept.push(low);
    else if (low.reading.timeMs < high.reading.timeMs) kept.push(low, high);
    else kept.push(high, low);
  }
  return kept;
}

function frameOf(pending: readonly PendingReading[], runId: number | null): ReadingsFrame {
  const zones = pending.at(-1)?.reading.layout.zones ?? [];
  // Use the layout of each reading, because a signal may have appeared between two of them.
  const column = (zone: number, what: 'temperature' | 'setpoint' | 'power') =>
    pending.map(({ reading }) => {
      const columns = reading.layout.zones.find((candidate) => candidate.zone === zone);
      return columns === undefined ? null : valueAt(reading, columns[what]);
    });
  return {
    kind: 'readings',
    runId,
    timeMs: pending.map((p) => p.reading.timeMs),
    gaugeMm: pending.map((p) => p.gaugeMm),
    diameterMm: pending.map((p) => p.diameterMm),
    speedMmPerS: pending.map((p) => p.speedMmPerS),
    zones: zones.map(({ zone }) => ({
      zone,
      temperatureC: column(zone, 'temperature'),
      setpointC: column(zone, 'setpoint'),
      power: column(zone, 'power'),
    })),
  };
}
