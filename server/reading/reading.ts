import type { MeasuredRole } from './names.ts';

/** A column of measured values. A free signal (role null) is stored and plotted, but no rule uses it. */
export interface Signal {
  /** Name on the cable, or the name of the role that a setting maps it to; unique within a layout. */
  readonly name: string;
  readonly role: MeasuredRole | null;
  readonly unit: string;
}

/** Columns of one heated zone; -1 = not sent. */
export interface ZoneColumns {
  /** 1 = nearest the hopper. */
  readonly zone: number;
  readonly temperature: number;
  readonly setpoint: number;
  readonly power: number;
  readonly fault: number;
}

/**
 * Which column of a reading holds which value. A new name appends a signal in a new layout object, and a signal
 * keeps its index for as long as the source is open. Only a full layout gives the index of a signal without a role that
 * has not come for a day to a new one.
 */
export interface Layout {
  readonly signals: readonly Signal[];
  /** Column of the strand diameter in mm; if only `dx` and `dy` are sent, of a derived signal with their mean. -1 = none. */
  readonly diameter: number;
  readonly diameterX: number;
  readonly diameterY: number;
  readonly speed: number;
  /** Column of the length counter `len` in mm, as sent (it may wrap or be reset). */
  readonly lengthCounter: number;
  readonly screwSpeed: number;
  readonly turns: number;
  /** Ascending by zone number; only zones for which a value is sent. */
  readonly zones: readonly ZoneColumns[];
}

/** One measuring cycle, read from one line. */
export interface Reading {
  /** UTC milliseconds, by the device clock if there is one; strictly increasing within a run. */
  readonly timeMs: number;
  readonly layout: Layout;
  /** One value per signal, in the signal's unit; NaN = no value this time. May be shorter than the layout. */
  readonly values: readonly number[];
  /** Lines lost directly before this one, as a jump of `n` or of the device's clock shows; 0 if lines have neither. */
  readonly lostBefore: number;
  /** The device restarted directly before this reading, so its counters start again. */
  readonly restarted: boolean;
}

/** Value of a column; NaN if there is no such column. */
export function valueAt(reading: Reading, column: number): number {
  return column < 0 ? Number.NaN : (reading.values[column] ?? Number.NaN);
}

/** Which of the names that a line sends have a role, and can therefore be watched. */
export interface RecognisedSignals {
  readonly diameter: boolean;
  /** Both axes of the gauge. */
  readonly twoAxes: boolean;
  /** Speed or length of the strand. */
  readonly travel: boolean;
  readonly screwSpeed: boolean;
  /** Temperature of any zone. */
  readonly temperature: boolean;
  /** What comes from each zone of which anything comes. */
  readonly zones: readonly RecognisedZone[];
  /** Any signal at all; bookkeeping fields do not count. */
  readonly anything: boolean;
  /** Names without a role: they are stored and drawn only. */
  readonly unknownNames: readonly string[];
}

export interface RecognisedZone {
  readonly zone: number;
  readonly temperature: boolean;
  readonly setpoint: boolean;
  readonly power: boolean;
}

/** Whether speed or length is sent, so that places on the strand are known. */
export function sendsTravel({ speed, lengthCounter }: Layout): boolean {
  return speed >= 0 || lengthCounter >= 0;
}

export function recognisedSignals(layout: Layout): RecognisedSignals {
  return {
    diameter: layout.diameter >= 0,
    twoAxes: layout.diameterX >= 0 && layout.diameterY >= 0,
    travel: sendsTravel(layout),
    screwSpeed: layout.screwSpeed >= 0,
    temperature: layout.zones.some(({ temperature }) => temperature >= 0),
    zones: layout.zones.map(({ zone, temperature, setpoint, power }) => ({
      zone,
      temperature: temperature >= 0,
      setpoint: setpoint >= 0,
      power: power >= 0,
    })),
    anything: layout.signals.some(({ role }) => role !== null),
    unknownNames: layout.signals.filter(({ role }) => role === null).map(({ name }) => name),
  };
}
