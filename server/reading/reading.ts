import type { MeasuredRole } from './names.ts';

/** A column of measured values. A free channel (role null) is stored and plotted, but no rule looks at it. */
export interface Channel {
  /** Name on the cable, or the role's name where a setting maps it; unique within a layout. */
  readonly name: string;
  readonly role: MeasuredRole | null;
  readonly unit: string;
}

/** Columns of one heated zone; -1 where the line does not send it. */
export interface ZoneColumns {
  /** 1 = nearest the hopper. */
  readonly zone: number;
  readonly temperature: number;
  readonly setpoint: number;
  readonly power: number;
  readonly fault: number;
}

/**
 * Which column of a reading holds what. A layout only ever grows: a new name appends a channel in a new layout object,
 * and the index of an old channel never changes within a connection.
 */
export interface Layout {
  readonly channels: readonly Channel[];
  /** Column of the strand diameter in mm; with `dx` and `dy` alone, of a derived channel `d` = their mean. -1 = none. */
  readonly diameter: number;
  readonly diameterX: number;
  readonly diameterY: number;
  readonly speed: number;
  /** Column of the length counter `len` in mm, as sent (it may wrap or be reset). */
  readonly lengthCounter: number;
  readonly screwSpeed: number;
  readonly turns: number;
  /** Ascending by zone number; only zones that the line mentions. */
  readonly zones: readonly ZoneColumns[];
}

/** One measuring cycle, understood. */
export interface Reading {
  /** UTC milliseconds, fitted to the device clock where there is one; strictly increasing within a run. */
  readonly timeMs: number;
  readonly layout: Layout;
  /** One value a channel of the layout, in the channels' units; NaN = no value this time. May be shorter than the layout. */
  readonly values: readonly number[];
  /** Lines known to be lost directly before this one (a jump of `n`); 0 where the line has no numbers. */
  readonly lostBefore: number;
  /** The device restarted directly before this reading: counters start anew. */
  readonly restarted: boolean;
}

/** Value of a column, NaN where the column is absent. */
export function valueAt(reading: Reading, column: number): number {
  return column < 0 ? Number.NaN : (reading.values[column] ?? Number.NaN);
}
