import type { DecimalReader } from './decimal.ts';
import type { FieldList } from './field-list.ts';
import { LineForm } from './line-form.ts';
import type { Shape } from './shape.ts';

const FORMS_MAX = 64;

/** The forms of the lines so far. Nearly every line has the form of the one before, so that one is tried first. */
export class KnownForms {
  /** Newest last. */
  readonly #forms: LineForm[] = [];
  #last: LineForm | null = null;

  /** Read a line by the form of the line before. @returns null = it has another form, or cannot be read */
  readByLastForm(
    shape: Shape,
    bytes: Uint8Array,
    start: number,
    end: number,
    fields: FieldList,
    decimal: DecimalReader,
  ): LineForm | null {
    const last = this.#last;
    return last !== null && last.shape === shape && last.read(bytes, start, end, fields, decimal) ? last : null;
  }

  /** The form of a line; a new one if no earlier line had it. */
  of(shape: Shape, bytes: Uint8Array, fields: FieldList): LineForm {
    if (this.#last?.matches(shape, bytes, fields)) return this.#last;
    this.#last = this.#find(shape, bytes, fields);
    return this.#last;
  }

  #find(shape: Shape, bytes: Uint8Array, fields: FieldList): LineForm {
    let form = this.#forms.find((known) => known.matches(shape, bytes, fields));
    if (form === undefined) {
      form = new LineForm(shape, bytes, fields);
      if (this.#forms.length >= FORMS_MAX) {
        const oldest = this.#forms.findIndex((known) => !known.confirmed);
        this.#forms.splice(Math.max(0, oldest), 1);
      }
      this.#forms.push(form);
    }
    return form;
  }

  /** Lines with this number of columns have new names. */
  rename(count: number): void {
    for (const form of this.#forms) if (form.shape === 'columns' && form.count === count) form.binding = null;
  }

  clear(): void {
    this.#forms.length = 0;
    this.#last = null;
  }
}
