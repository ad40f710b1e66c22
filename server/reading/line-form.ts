import type { DecimalReader } from './decimal.ts';
import type { FieldList } from './field-list.ts';
import { FormReader } from './form-reader.ts';
import type { Binding } from './layout-builder.ts';
import type { Shape } from './shape.ts';

/** Without a checksum a form is believed when it comes for the third time close by, or for the fourth at even intervals. */
const SIGHTINGS_CLOSE = 2;
const CLOSE_LINES = 5;
const EVEN_SHARE = 0.1;
/** With a checksum, when it comes again. */
const SIGHTINGS_CHECKED = 2;
const PLACES_RUN = 50;
const PLACES_RUN_MAX = 3200;

/**
 * A form that lines have: a shape with certain names in a certain order. Garbage that still parses nearly always has
 * a form of its own, so only a form that comes again is believed.
 */
export class LineForm {
  readonly shape: Shape;
  readonly separator: number;
  /** Names on the cable; empty for columns, where the binding knows them. */
  readonly names: readonly string[];
  readonly count: number;
  confirmed = false;
  binding: Binding | null = null;
  readonly #nameBytes: readonly Uint8Array[];
  readonly #reader: FormReader | null;
  #sightings = 0;
  #checkedSightings = 0;
  #seenAt = Number.NaN;
  #interval = Number.NaN;
  #regular = 0;
  // Digits behind the point that a field always has: one digit lost on the cable shows there.
  readonly #places: Int8Array;
  readonly #placesRun: Int32Array;
  readonly #placesNeeded: Int32Array;

  constructor(shape: Shape, bytes: Uint8Array, fields: FieldList) {
    this.shape = shape;
    this.separator = fields.separator;
    this.count = fields.count;
    this.names = shape === 'columns' ? [] : fields.names(bytes);
    this.#nameBytes = this.names.map((_, i) => bytes.slice(fields.nameStart[i]!, fields.nameEnd[i]!));
    this.#reader = shape === 'named' ? new FormReader(bytes, fields) : null;
    this.#places = new Int8Array(fields.count).fill(-1);
    this.#placesRun = new Int32Array(fields.count);
    this.#placesNeeded = new Int32Array(fields.count).fill(PLACES_RUN);
  }

  matches(shape: Shape, bytes: Uint8Array, fields: FieldList): boolean {
    const count = fields.count;
    if (count !== this.count || shape !== this.shape || fields.separator !== this.separator) return false;
    if (shape === 'columns') return true;
    for (let i = 0; i < count; i++) {
      const name = this.#nameBytes[i]!;
      const start = fields.nameStart[i]!;
      const length = name.length;
      if (fields.nameEnd[i]! - start !== length) return false;
      for (let at = 0; at < length; at++) if (bytes[start + at] !== name[at]) return false;
    }
    return true;
  }

  /** Read a line of this form into `fields`. @returns false = it has another form, or cannot be told so quickly */
  read(bytes: Uint8Array, start: number, end: number, fields: FieldList, decimal: DecimalReader): boolean {
    return this.#reader?.read(bytes, start, end, fields, decimal) === true;
  }

  hasTwins(): boolean {
    return new Set(this.names).size < this.names.length;
  }

  /**
   * One more line of this form. What a noisy cable makes comes again too, some time; but neither at once nor at even
   * intervals, as lines do that bring the slow channels only now and then.
   * @param at number of the line among all that came
   * @param first no form is believed yet: a checksum is enough
   * @returns it is to be believed
   */
  sighted(at: number, checked: boolean, first: boolean): boolean {
    const interval = at - this.#seenAt;
    const isEven = Math.abs(interval - this.#interval) <= Math.max(1, EVEN_SHARE * interval);
    this.#regular = interval <= CLOSE_LINES || isEven ? this.#regular + 1 : 0;
    this.#seenAt = at;
    this.#interval = interval;
    this.#sightings++;
    if (checked) this.#checkedSightings++;
    return this.#regular >= SIGHTINGS_CLOSE || this.#checkedSightings >= SIGHTINGS_CHECKED || (first && checked);
  }

  /** Seen more than once. */
  get repeated(): boolean {
    return this.#sightings > 1;
  }

  /**
   * Whether a field has another number of digits behind the point than always before. JSON is left out, because its
   * printers leave trailing zeros away.
   */
  hasOddPlaces(places: Int8Array): boolean {
    if (this.shape === 'json') return false;
    for (let i = 0; i < this.count; i++) {
      if (this.#placesRun[i]! >= this.#placesNeeded[i]! && places[i] !== this.#places[i] && places[i] !== -1)
        return true;
    }
    return false;
  }

  /** Two lines in a row are odd in the same way: the board prints so now. */
  isOddAlike(one: Int8Array, other: Int8Array): boolean {
    for (let i = 0; i < this.count; i++) {
      const fixed = this.#placesRun[i]! >= this.#placesNeeded[i]!;
      if (fixed && one[i] !== other[i] && one[i] !== -1 && other[i] !== -1) return false;
    }
    return true;
  }

  learnPlaces(places: Int8Array): void {
    for (let i = 0; i < this.count; i++) {
      const now = places[i]!;
      if (now === this.#places[i]) {
        this.#placesRun[i]!++;
      } else if (now !== -1) {
        // A field that changes by itself is believed later and later, so that its changes cost ever fewer lines.
        if (this.#places[i] !== -1 && this.#placesNeeded[i]! < PLACES_RUN_MAX) this.#placesNeeded[i]! *= 2;
        this.#places[i] = now;
        this.#placesRun[i] = 1;
      }
    }
  }
}
