import type { RoleMapping } from './layout-builder.ts';
import type { LearntForms } from './line-validator.ts';
import type { DropCause } from './link-counters.ts';
import type { Reading } from './reading.ts';
import type { RepeatedText } from './repeated-text.ts';
import type { SeenFields } from './seen-fields.ts';
import type { Shape } from './shape.ts';

export interface IntakeOptions {
  readonly shape: 'auto' | Shape;
  readonly checksum: 'auto' | 'required';
  /** Names of the columns, for lines of bare numbers without a header; empty = none. */
  readonly columnNames: readonly string[];
  /** Words before the only numbers to read, for lines whose other words change all the time; empty = all numbers. */
  readonly pointedAt?: readonly string[];
  readonly roles: readonly RoleMapping[];
  /** What an intake with other settings has learnt on the same connection. */
  readonly learnt?: Learnt;
  /** UTC ms of the first reading if only the device clock can date it (recorded source). */
  readonly recordedStartMs: number;
  /** Readings are dated after this, UTC ms, because they continue a run. */
  readonly notBeforeMs?: number;
  /** Readings per second of recorded lines that have neither `ms` nor `us`; 50 by default. */
  readonly recordedRateHz?: number;
}

/** What stays true on a connection when the settings change. A board may print some of it only once, or once a minute. */
export interface Learnt {
  /** Names of the headers so far, by their number. */
  readonly headers: ReadonlyMap<number, readonly string[]>;
  readonly forms: LearntForms;
  readonly seen: SeenFields;
  readonly texts: RepeatedText;
}

export interface IntakeSink {
  reading(reading: Reading): void;
  /** A note of the firmware, or a header line; `timeMs` is UTC ms. */
  note(text: string, timeMs: number): void;
  dropped?(cause: DropCause, raw: string): void;
  /** Signals without a role that were not sent for a day made room for new ones. */
  forgot?(names: readonly string[]): void;
}

/** A dropped line that is kept to be shown. */
export interface DroppedLine {
  readonly text: string;
  readonly cause: DropCause;
}
