/** The readings of a spool or a run as a table: the same columns in every format, each title with its unit. */
export interface ExportTable {
  readonly of: 'spool' | 'run';
  /** `R3-1`, `R3` */
  readonly name: string;
  readonly channels: readonly { readonly name: string; readonly unit: string }[];
}

/** Rows of it, column by column; NaN = no value. `values` in the order of the channels. */
export interface ExportRows {
  readonly timeMs: Float64Array;
  /** True position from the inner end of the spool; null in the table of a run. */
  readonly positionMm: Float64Array | null;
  /** As the line counted, from the beginning of the run. */
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

/** Titles of the channels: `d [mm]`, `p1`. */
export function channelTitles(table: ExportTable): string[] {
  return table.channels.map(({ name, unit }) => (unit === '' ? name : `${name} [${unit}]`));
}

/** ISO 8601 in UTC with microseconds: times of readings are fitted to finer than a millisecond. */
export function isoTime(timeMs: number): string {
  const micros = Math.round(timeMs * 1000);
  const rest = ((micros % 1000) + 1000) % 1000;
  const whole = new Date((micros - rest) / 1000).toISOString();
  return `${whole.slice(0, -1)}${String(rest).padStart(3, '0')}Z`;
}
