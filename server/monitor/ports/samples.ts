import type { Reading } from '../../reading/reading.ts';

/** The last reading that was stored of a run: enough to go on after a crash. */
export interface LastSample {
  readonly timeMs: number;
  readonly gaugeMm: number;
  readonly values: Readonly<Record<string, number | null>>;
}

/** Writes readings. All calls return at once or throw; what was appended is on disk at the latest a second later. */
export interface SampleWriter {
  /** Readings of one run, in order; `gaugeMm` never falls. */
  append(runId: number, reading: Reading, gaugeMm: number): void;
  /** Write what is pending and seal the open block. */
  flush(): void;
}

export type WindowAxis = 'time' | 'length';

export interface WindowQuery {
  readonly runId: number;
  readonly axis: WindowAxis;
  /** UTC ms or gauge length in mm, inclusive. */
  readonly from: number;
  readonly to: number;
  /** Number of equal columns, 1…4000. */
  readonly columns: number;
  /** Channel names; an unknown one gives a channel of gaps. */
  readonly channels: readonly string[];
  /** Standard deviations are asked for too: more must be read for them. */
  readonly spread?: boolean;
}

/** One value a column; null = no reading with a value in that column. */
export interface ChannelColumns {
  readonly min: readonly (number | null)[];
  readonly max: readonly (number | null)[];
  readonly mean: readonly (number | null)[];
  /** Sample standard deviation (n − 1), in the channel's unit; only where the query asks for the spread. null for n < 2. */
  readonly sd?: readonly (number | null)[];
}

/**
 * The answer to a window query. Column i begins at from + (to − from) × i / columns. The first one begins at `from` and the
 * last one ends at `to` exactly; where columns hold more than 256 readings, the edges between them may lie up to an
 * eighth of a column beside their place. All that is told of a column, extremes, mean and count, is exactly that of the
 * readings from its first one, which is named, to the next column's first one.
 */
export interface WindowColumns {
  readonly axis: WindowAxis;
  readonly from: number;
  readonly to: number;
  /** Readings in each column. */
  readonly count: readonly number[];
  /** Time of the first reading in the column, UTC ms. */
  readonly timeMs: readonly (number | null)[];
  /** Gauge length of the first reading in the column, mm. */
  readonly gaugeMm: readonly (number | null)[];
  readonly channels: Readonly<Record<string, ChannelColumns>>;
}

export interface WindowBytes {
  readonly bytes: Uint8Array;
  readonly gzipped: boolean;
}

/** What is known of a run's readings as a whole. */
export interface SampleExtent {
  readonly count: number;
  readonly fromMs: number;
  readonly toMs: number;
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number;
  readonly channels: readonly {
    readonly name: string;
    readonly unit: string;
  }[];
}

/** Reads readings. Asynchronous, so that a reader may live on another thread. */
export interface SampleReader {
  window(query: WindowQuery): Promise<WindowColumns>;
  /** The same as bytes whose layout `window-bytes.ts` tells, made where the readings are read; `pack` = gzipped, if it helps. */
  windowBytes(query: WindowQuery, pack: boolean): Promise<WindowBytes>;
  /** null = the run has no readings. */
  extent(runId: number): Promise<SampleExtent | null>;
}

/** Raw columns of a stretch of strand, one entry a reading; NaN = gap. */
export interface SampleColumns {
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly values: Readonly<Record<string, Float64Array>>;
}

/** Reads raw columns, for judging a run anew and for analysis. */
export interface SampleColumnsReader {
  /** All readings with fromGaugeMm ≤ gauge length ≤ toGaugeMm, in order; an unknown channel is all gaps (NaN). */
  readings(runId: number, fromGaugeMm: number, toGaugeMm: number, channels: readonly string[]): Promise<SampleColumns>;
  /**
   * Readings of a run by number: [first, first + count) in order of time, fewer at its end. Of a run that is going the last
   * second may be missing.
   */
  piece(runId: number, first: number, count: number, channels: readonly string[]): Promise<SampleColumns>;
}
