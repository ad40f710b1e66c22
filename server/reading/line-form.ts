import type { DecimalReader } from './decimal.ts';
import type { FieldList } from './field-list.ts';
import { FormReader } from './form-reader.ts';
import type { Binding } from './layout-builder.ts';
import type { Shape } from './shape.ts';
import { textFields } from './text-names.ts';
import { TextFormReader } from './text-shape.ts';

/** Without a checksum, a form is accepted at its third line in close succession, or its fourth at even intervals. */
const REGULAR_STEPS = 2;
/** Damaged free text can still be free text, so a further form of it has to repeat more often. */
const REGULAR_STEPS_TEXT = 4;
const CLOSE_LINES = 5;
const EVEN_SHARE = 0.1;
/** What a board prints only when it changes comes at any interval, but more often than damage repeats itself. */
const OFTEN_GAP = 40;
const OFTEN_STEPS = 7;
/** With a checksum, at its second line. */
const CHECKED_LINES = 2;
/** After this many lines with the same number of digits, another number is odd. */
const PLACES_RUN = 50;
const PLACES_RUN_MAX = 3200;

/**
 * The form of a line: its shape, and its names in their order. Garbage that can still be parsed nearly always has a form
 * that never comes again, so a form is only accepted when it repeats.
 */
export class LineForm {
  readonly shape: Shape;
  readonly separator: number;
  /** Names on the cable; empty for columns, whose names are in the binding. */
  readonly names: readonly string[];
  /** Units printed after the values, '' = none; empty in shapes that print none. */
  readonly units: readonly string[];
  /** Names are not those of the contract: only a mapping says what they mean. */
  readonly mappedOnly: boolean;
  readonly count: number;
  confirmed = false;
  binding: Binding | null = null;
  readonly #nameBytes: readonly Uint8Array[];
  readonly #reader: FormReader | TextFormReader | null;
  #lines = 0;
  #checkedLines = 0;
  #lastAt = Number.NaN;
  #interval = Number.NaN;
  #regularSteps = 0;
  #oftenSteps = 0;
  // The usual number of digits after the point in each field: a digit lost on the cable changes it.
  readonly #places: Int8Array;
  readonly #placesRun: Int32Array;
  readonly #placesNeeded: Int32Array;

  /** @param end of the line in `bytes`, its checksum excluded */
  constructor(shape: Shape, bytes: Uint8Array, end: number, fields: FieldList) {
    this.shape = shape;
    this.separator = fields.separator;
    this.count = fields.count;
    const text = shape === 'text' ? textFields(bytes, end, fields) : [];
    this.names = shape === 'columns' ? [] : shape === 'text' ? text.map(({ name }) => name) : fields.names(bytes);
    this.units = text.map(({ unit }) => unit);
    this.mappedOnly = shape === 'text';
    const spans = shape === 'columns' || shape === 'text' || fields.hasOwnNames ? [] : fields.nameSpans();
    // Copies: the chunk may be a Buffer, whose slice() would keep its memory.
    this.#nameBytes = spans.map(({ start, end }) => new Uint8Array(bytes.subarray(start, end)));
    this.#reader =
      shape === 'named'
        ? new FormReader(bytes, fields)
        : shape === 'text'
          ? new TextFormReader(bytes, end, fields)
          : null;
    this.#places = new Int8Array(fields.count).fill(-1);
    this.#placesRun = new Int32Array(fields.count);
    this.#placesNeeded = new Int32Array(fields.count).fill(PLACES_RUN);
  }

  matches(shape: Shape, bytes: Uint8Array, fields: FieldList): boolean {
    const count = fields.count;
    if (count !== this.count || shape !== this.shape || fields.separator !== this.separator) return false;
    if (shape === 'columns') return true;
    // Its reader has been tried, and compares more than names.
    if (shape === 'text') return false;
    if (fields.hasOwnNames || this.#nameBytes.length < count)
      return fields.names(bytes).every((name, i) => name === this.names[i]);
    for (let i = 0; i < count; i++) {
      const name = this.#nameBytes[i]!;
      const start = fields.nameStart[i]!;
      const length = name.length;
      if (fields.nameEnd[i]! - start !== length) return false;
      for (let at = 0; at < length; at++) if (bytes[start + at] !== name[at]) return false;
    }
    return true;
  }

  /** Read a line of this form into `fields`. @returns false = it has another form, or needs the reader of its shape */
  read(bytes: Uint8Array, start: number, end: number, fields: FieldList, decimal: DecimalReader): boolean {
    return this.#reader?.read(bytes, start, end, fields, decimal, this.confirmed) === true;
  }

  hasDuplicateNames(): boolean {
    return new Set(this.names).size < this.names.length;
  }

  /**
   * Count a line of this form. Garbage repeats too, but neither in close succession nor at even intervals, as lines
   * with the slow signals of a board do, nor often.
   * @param at number of the line among all lines
   * @param first no form is accepted yet, so one correct checksum is enough
   * @returns whether the form is to be accepted
   */
  countLine(at: number, checked: boolean, first: boolean): boolean {
    const interval = at - this.#lastAt;
    const isEven = Math.abs(interval - this.#interval) <= Math.max(1, EVEN_SHARE * interval);
    this.#regularSteps = interval <= CLOSE_LINES || isEven ? this.#regularSteps + 1 : 0;
    this.#oftenSteps = interval <= OFTEN_GAP ? this.#oftenSteps + 1 : 0;
    this.#lastAt = at;
    this.#interval = interval;
    this.#lines++;
    if (checked) this.#checkedLines++;
    const needed = this.shape === 'text' && !first ? REGULAR_STEPS_TEXT : REGULAR_STEPS;
    const isOften = this.#oftenSteps >= OFTEN_STEPS;
    return this.#regularSteps >= needed || isOften || this.#checkedLines >= CHECKED_LINES || (first && checked);
  }

  /** More than one line had it. */
  get repeated(): boolean {
    return this.#lines > 1;
  }

  /**
   * Whether a field has an unusual number of digits after the point. JSON is exempt, because its printers omit trailing
   * zeros.
   */
  hasOddPlaces(places: Int8Array): boolean {
    if (this.shape === 'json') return false;
    const usual = this.#places;
    for (let i = 0; i < this.count; i++) {
      const now = places[i]!;
      // Nearly all fields have their usual digits, so that is asked first.
      if (now !== usual[i] && now !== -1 && this.#placesRun[i]! >= this.#placesNeeded[i]!) return true;
    }
    return false;
  }

  /** Whether two lines are odd in the same way, which means that the board now prints like that. */
  areOddAlike(one: Int8Array, other: Int8Array): boolean {
    for (let i = 0; i < this.count; i++) {
      const fixed = this.#placesRun[i]! >= this.#placesNeeded[i]!;
      if (fixed && one[i] !== other[i] && one[i] !== -1 && other[i] !== -1) return false;
    }
    return true;
  }

  learnPlaces(places: Int8Array): void {
    const usual = this.#places;
    const runs = this.#placesRun;
    for (let i = 0; i < this.count; i++) {
      const now = places[i]!;
      if (now === usual[i]) {
        runs[i]!++;
      } else if (now !== -1) {
        // A field that often changes has to stay the same for longer each time, so that its changes cost fewer lines.
        if (usual[i] !== -1 && this.#placesNeeded[i]! < PLACES_RUN_MAX) this.#placesNeeded[i]! *= 2;
        usual[i] = now;
        runs[i] = 1;
      }
    }
  }
}
