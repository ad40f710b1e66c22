import type { Pace } from './source-address.ts';

/** What a source says of its connection, in words that a maker understands. */
export interface LinkStatus {
  readonly phase: 'opening' | 'open' | 'waiting' | 'ended' | 'closed';
  /** A plain sentence: "Cannot open /dev/ttyUSB0: it is in use by another program. Trying again in 2 s." */
  readonly text: string;
}

export interface SourceListener {
  /**
   * Bytes as they came. `arrivalMs` is monotonic (the clock given to the source) and null where bytes are recorded or
   * run faster than the clock, so that only the device's own clock can date them.
   */
  bytes(chunk: Uint8Array, arrivalMs: number | null): void;
  /** A new connection: what was half received belongs to the old one. */
  opened(): void;
  status(status: LinkStatus): void;
}

/**
 * Where reading lines come from. A source reconnects by itself, with growing pauses up to 5 s, and says in `status` what
 * it is doing; it never throws after `start`.
 */
export interface Source {
  /** What it reads, for people: "serial port /dev/serial/by-id/…", "simulator, scenario evening". */
  readonly title: string;
  /** 'live' = a silence is a fault; 'recorded' = it may end, and runs at its own pace. */
  readonly timing: 'live' | 'recorded';
  /** What it reads goes on while the service is stopped: a real line does, a recording and a simulation begin anew. */
  readonly resumable: boolean;
  /** What it is, and how fast it runs, where it is no line that runs now. */
  readonly playback?: { readonly what: 'replay' | 'simulation'; readonly pace: Pace };
  /** What is known of a recording whose lines do not tell it. */
  readonly recorded?: {
    /** When it began, UTC ms; null = unknown. */
    readonly startMs: number | null;
    /** Lines a second where they have no clock; null = unknown. */
    readonly rateHz: number | null;
  };
  start(listener: SourceListener): void;
  stop(): Promise<void>;
}
