import type { DecimalReader } from './decimal.ts';
import type { FieldList } from './field-list.ts';
import { isSeparator } from './named-shape.ts';

/**
 * Reads lines of the named shape that have the very form of an earlier one. What stands before each value is compared with
 * what stood there then instead of being read, which takes half the time; nearly every line of a board is of one form.
 */
export class FormReader {
  readonly #count: number;
  /** What stands before each value, with the separators in front of its name, one behind the other. */
  readonly #marks: Uint8Array;
  readonly #markEnds: Int32Array;

  /** `fields`: of the line that lies in `bytes`. */
  constructor(bytes: Uint8Array, fields: FieldList) {
    this.#count = fields.count;
    this.#markEnds = new Int32Array(fields.count);
    const marks: number[] = [];
    for (let i = 0; i < fields.count; i++) {
      let from = fields.nameStart[i]!;
      while (i > 0 && isSeparator(bytes[from - 1]!)) from--;
      marks.push(...bytes.subarray(from, fields.nameEnd[i]! + 1));
      this.#markEnds[i] = marks.length;
    }
    this.#marks = Uint8Array.from(marks);
  }

  /** @returns false = the line has another form, or is none */
  read(bytes: Uint8Array, start: number, end: number, fields: FieldList, decimal: DecimalReader): boolean {
    const marks = this.#marks;
    const markEnds = this.#markEnds;
    const count = this.#count;
    const { values, places } = fields;
    let at = start;
    let mark = 0;
    for (let i = 0; i < count; i++) {
      const markEnd = markEnds[i]!;
      if (end - at < markEnd - mark) return false;
      for (; mark < markEnd; mark++, at++) if (bytes[at] !== marks[mark]) return false;
      at = decimal.read(bytes, at, end, false);
      if (at < 0) return false;
      values[i] = decimal.value;
      places[i] = decimal.places;
    }
    fields.count = count;
    fields.separator = 0;
    return at === end;
  }
}
