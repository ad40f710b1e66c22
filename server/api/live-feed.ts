import type { WebSocket } from '@fastify/websocket';
import type { Reading } from '../reading/reading.ts';
import { valueAt } from '../reading/reading.ts';
import { ReadingsFrame, StateFrame } from './contract/live.ts';
import type { LiveState } from './contract/live-state.ts';
import { FeedClients } from './feed-clients.ts';
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

const write = {
  readings: writeOnDemand(ReadingsFrame),
  state: writeOnDemand(StateFrame),
};

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

/** Sends readings and state to every open page. */
export class LiveFeed {
  readonly #options: LiveFeedOptions;
  readonly #clients: FeedClients;
  #pending: PendingReading[] = [];
  #timer: NodeJS.Timeout | undefined;
  #stateDue = false;
  #framedAt = Number.NEGATIVE_INFINITY;
  #frameDue = false;
  #flushTimer: NodeJS.Timeout | null = null;

  constructor(options: LiveFeedOptions) {
    this.#options = options;
    this.#clients = new FeedClients(options.failed);
  }

  start(): void {
    this.#timer = setInterval(() => this.#sendState(), STATE_EVERY_MS);
    this.#clients.start();
  }

  stop(): void {
    clearInterval(this.#timer);
    if (this.#flushTimer !== null) clearTimeout(this.#flushTimer);
    this.#clients.stop();
  }

  get clients(): number {
    return this.#clients.size;
  }

  add(socket: WebSocket, credentialId: number | null = null): void {
    this.#clients.add(socket, credentialId, () => this.#stateFrame());
  }

  /** Closes what a device or token has open. */
  closeOf(credentialId: number): void {
    this.#clients.closeOf(credentialId);
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
    this.#clients.send(() => this.#stateFrame());
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
    this.#clients.send(() => write.readings(frameOf(pending, this.#options.runId())));
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
