import type { Pace } from './source-address.ts';

/** State of a source's connection, with a text for users. */
export interface LinkStatus {
  readonly phase: 'opening' | 'open' | 'waiting' | 'released' | 'ended' | 'closed';
  /** Sentences such as "Cannot open /dev/ttyUSB0: it is in use by another program. Trying again in 2 s." */
  readonly text: string;
  /** Only while waiting: why, without the time of the next attempt, so that the same fault is recognised again. */
  readonly fault?: string;
  /** Only while released: when the connection is opened again, by the source's clock. */
  readonly untilMs?: number;
}

export interface SourceListener {
  /**
   * Bytes as they arrive. `arrivalMs` is the time on the source's clock, which never steps. It is null if the bytes are
   * recorded or faster than that clock, so that only the device's clock can date them.
   */
  bytes(chunk: Uint8Array, arrivalMs: number | null): void;
  /** A new connection was opened: an incomplete line belongs to the old one. */
  opened(): void;
  status(status: LinkStatus): void;
}

/**
 * Where reading lines come from. A source reconnects automatically, with growing pauses up to 5 s, and reports its state in
 * `status`. It never throws after `start`.
 */
export interface Source {
  /** What it reads, shown to users: "serial port /dev/serial/by-id/…", "simulator, scenario evening". */
  readonly title: string;
  /** 'live' = silence is a fault; 'recorded' = it may end, and has its own pace. */
  readonly timing: 'live' | 'recorded';
  /** Stands in for a source that cannot be used now. */
  readonly isUnusable?: true;
  /** No source is chosen. */
  readonly isMissing?: true;
  /** Whether it continues while the service is stopped. A real line does; a recording or a simulation starts again. */
  readonly resumable: boolean;
  /** Kind and pace of a source that is not a real line running now. */
  readonly playback?: { readonly what: 'replay' | 'simulation'; readonly pace: Pace };
  /** Times of a recording that its lines do not show. */
  readonly recorded?: {
    /** Start, UTC ms; null = unknown. */
    readonly startMs: number | null;
    /** Lines per second if they have no clock; null = unknown. */
    readonly rateHz: number | null;
  };
  start(listener: SourceListener): void;
  stop(): Promise<void>;
  /**
   * Close the connection so that another program can use it, and open it again after so long. Missing if the source holds
   * no connection.
   * @returns resolves when it is closed
   */
  release?(forMs: number): Promise<void>;
  /** Open a released connection again now. */
  resume?(): void;
  /** As set. Missing if the source has none. */
  readonly baudRate?: number;
  /**
   * Try the usual baud rates on the open connection, without opening it again. What arrives during the search is not passed on.
   * @param onTrial called with each rate before it is tried
   * @returns the rate at which a sketch's lines arrive; null = none does
   */
  findRate?(onTrial: (baud: number) => void): Promise<number | null>;
}
