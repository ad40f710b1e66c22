/** The readings of a spool or a run as a table: the same columns in every format, each title with its unit. */
export interface ExportTable {
  readonly of: 'spool' | 'run';
  /** `R3-1`, `R3` */
  readonly name: string;
  readonly signals: readonly { readonly name: string; readonly unit: string }[];
}

/** Rows of the table, column by column; NaN = no value. `values` has a column for each signal. */
export interface ExportRows {
  readonly timeMs: Float64Array;
  /** True position from the inner end of the spool; null in the table of a run. */
  readonly positionMm: Float64Array | null;
  /** As counted by the line from the start of the run. */
  readonly gaugeMm: Float64Array;
  readonly values: readonly Float64Array[];
}

/** Turns a table into bytes, piece by piece. */
export interface RowEncoder {
  begin(): Uint8Array;
  rows(rows: ExportRows): Uint8Array;
  end(): Uint8Array;
}

export const TIME_TITLE = 'time';
export const POSITION_TITLE = 'position [mm]';
export const GAUGE_TITLE = 'gauge length [mm]';

/** Titles of the signals, such as `d [mm]` and `p1`. */
export function signalTitles(table: ExportTable): string[] {
  return table.signals.map(({ name, unit }) => (unit === '' ? name : `${name} [${unit}]`));
}
