import type { FieldList } from './field-list.ts';
import { LineForm } from './line-form.ts';
import type { Shape } from './shape.ts';

const FORMS_MAX = 64;

/** The forms that lines have had. A line nearly always has the form of the one before, so that is looked at first. */
export class KnownForms {
  /** Newest last. */
  readonly #forms: LineForm[] = [];
  #last: LineForm | null = null;

  /** The form of a line; a new one if there is none yet. */
  of(shape: Shape, bytes: Uint8Array, fields: FieldList): LineForm {
    if (this.#last?.matches(shape, bytes, fields)) return this.#last;
    let form = this.#forms.find((known) => known.matches(shape, bytes, fields));
    if (form === undefined) {
      form = new LineForm(shape, bytes, fields);
      if (this.#forms.length >= FORMS_MAX) {
        const oldest = this.#forms.findIndex((known) => !known.confirmed);
        this.#forms.splice(Math.max(0, oldest), 1);
      }
      this.#forms.push(form);
    }
    this.#last = form;
    return form;
  }

  /** Columns of this number have new names. */
  rename(count: number): void {
    for (const form of this.#forms) if (form.shape === 'columns' && form.count === count) form.binding = null;
  }

  clear(): void {
    this.#forms.length = 0;
    this.#last = null;
  }
}
