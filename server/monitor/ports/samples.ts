import type { Reading } from '../../reading/reading.ts';

/** The last stored reading of a run, from which the run can be resumed. */
export interface LastSample {
  readonly timeMs: number;
  readonly gaugeMm: number;
  readonly values: Readonly<Record<string, number | null>>;
}

/** Writes readings. Each call returns at once or throws. Appended readings are on disk within a second. */
export interface SampleWriter {
  /** Readings of one run, in order; `gaugeMm` never decreases. */
  append(runId: number, reading: Reading, gaugeMm: number): void;
  /** Writes pending readings and seals the open block. */
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
  /** Signal names; an unknown one returns only gaps. */
  readonly signals: readonly string[];
  /** Return standard deviations too, for which more must be read. */
  readonly spread?: boolean;
}

/** One value per column; null = no reading with a value in that column. */
export interface SignalColumns {
  readonly min: readonly (number | null)[];
  readonly max: readonly (number | null)[];
  readonly mean: readonly (number | null)[];
  /** Sample standard deviation (n − 1) in the signal's unit, if the query asks for the spread; null for n < 2. */
  readonly sd?: readonly (number | null)[];
}

/**
 * The result of a window query. Column i starts at from + (to − from) × i / columns. The first column starts exactly at `from`
 * and the last one ends exactly at `to`. Where columns hold more than 256 readings, an edge between two may be off by up to
 * an eighth of a column. Extremes, mean and count are exact for the readings from a column's first one, whose time and
 * length are given, up to the first one of the next column.
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
  readonly signals: Readonly<Record<string, SignalColumns>>;
}

export interface WindowBytes {
  readonly bytes: Uint8Array;
  readonly gzipped: boolean;
}

/** Number, range and signals of a run's readings. */
export interface SampleExtent {
  readonly count: number;
  readonly fromMs: number;
  readonly toMs: number;
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number;
  readonly signals: readonly {
    readonly name: string;
    readonly unit: string;
  }[];
}

/** Reads readings. Asynchronous, so that it can run on another thread. */
export interface SampleReader {
  window(query: WindowQuery): Promise<WindowColumns>;
  /** The same in the layout of `window-bytes.ts`, made on the thread that reads. @param pack gzip it if that helps */
  windowBytes(query: WindowQuery, pack: boolean): Promise<WindowBytes>;
  /** null = the run has no readings. */
  extent(runId: number): Promise<SampleExtent | null>;
}

/** Raw columns of a stretch of strand, one entry per reading; NaN = gap. */
export interface SampleColumns {
  readonly timeMs: Float64Array;
  readonly gaugeMm: Float64Array;
  readonly values: Readonly<Record<string, Float64Array>>;
}

/** Reads raw columns, for analysis and for judging a run again. */
export interface SampleColumnsReader {
  /** All readings with fromGaugeMm ≤ gauge length ≤ toGaugeMm, in order; an unknown signal is all NaN. */
  readings(runId: number, fromGaugeMm: number, toGaugeMm: number, signals: readonly string[]): Promise<SampleColumns>;
  /**
   * Readings of a run by number: [first, first + count) in order of time, fewer at its end. Of the current run the last
   * second may be missing.
   */
  piece(runId: number, first: number, count: number, signals: readonly string[]): Promise<SampleColumns>;
}
