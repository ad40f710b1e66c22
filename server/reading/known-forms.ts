import type { DecimalReader } from './decimal.ts';
import type { FieldList } from './field-list.ts';
import { LineForm } from './line-form.ts';
import type { Shape } from './shape.ts';

const FORMS_MAX = 64;

/** The forms of the lines so far. Nearly every line has the form of the one before, so that one is tried first. */
export class KnownForms {
  /** Newest last. */
  readonly #forms: LineForm[];
  #last: LineForm | null = null;

  /** @param earlier forms of the same connection; the meaning of their values is looked up again */
  constructor(earlier: readonly LineForm[]) {
    for (const form of earlier) form.binding = null;
    this.#forms = [...earlier];
  }

  ofShape(shape: Shape): readonly LineForm[] {
    return this.#forms.filter((form) => form.shape === shape);
  }

  /** Whether a confirmed form has all these names. */
  isConfirmed(names: readonly string[]): boolean {
    return this.#forms.some((form) => form.confirmed && names.every((name) => form.names.includes(name)));
  }

  /**
   * Read a line by the form of the line before; free text also by earlier ones, because a sketch may print one value per
   * line. @returns null = it has another form, or cannot be read
   */
  readByKnownForm(
    shape: Shape,
    bytes: Uint8Array,
    start: number,
    end: number,
    fields: FieldList,
    decimal: DecimalReader,
  ): LineForm | null {
    const last = this.#last;
    if (last !== null && last.shape === shape && last.read(bytes, start, end, fields, decimal)) return last;
    if (shape !== 'text') return null;
    const known = this.#forms.find((form) => form.shape === 'text' && form.read(bytes, start, end, fields, decimal));
    if (known === undefined) return null;
    this.#last = known;
    return known;
  }

  /** The form of a line; a new one if no earlier line had it. */
  of(shape: Shape, bytes: Uint8Array, end: number, fields: FieldList): LineForm {
    if (this.#last?.matches(shape, bytes, fields)) return this.#last;
    this.#last = this.#find(shape, bytes, end, fields);
    return this.#last;
  }

  #find(shape: Shape, bytes: Uint8Array, end: number, fields: FieldList): LineForm {
    let form = this.#forms.find((known) => known.matches(shape, bytes, fields));
    if (form === undefined) {
      form = new LineForm(shape, bytes, end, fields);
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
