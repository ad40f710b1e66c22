import type { DecimalReader } from './decimal.ts';
import { FieldList } from './field-list.ts';
import type { Shape } from './shape.ts';
import { readText, TextFormReader } from './text-shape.ts';

/** After this many lines of another shape, the board has a new sketch. */
const LINES = 10;
/** A slow board needs only this many, if they take at least so long. */
const LINES_SLOW = 3;
const SLOW_MS = 1500;
/** A good line takes back this much of what free text counted: a sketch may print lines of two shapes in turn. */
const GOOD_LINE = 0.1;
/** After this many lines of another shape among good ones, a sketch prints both. */
const MIXED = 3;
const FORMS_MAX = 8;

/** Notices that the lines have another shape than the one recognised. */
export class ShapeChange {
  #other: Shape | null = null;
  #lines = 0;
  #sinceMs = Number.NaN;
  #mixed = 0;
  #forms: TextFormReader[] = [];
  readonly #fields = new FieldList();

  /** A line of the current shape. */
  good(): void {
    if (this.#lines === 0) return;
    if (this.#other === 'text') this.#lines = Math.max(0, this.#lines - GOOD_LINE);
    else {
      this.#lines = 0;
      this.#mixed++;
    }
  }

  /** A line of no shape. */
  unreadable(): void {
    if (this.#other !== 'text') this.#lines = 0;
  }

  /** Lines of another shape come between good ones, not in place of them. */
  get isMixed(): boolean {
    return this.#mixed >= MIXED;
  }

  /** A line that is a valid one of another shape. @returns true = the shape has changed */
  other(shape: Shape, arrivalMs: number | null): boolean {
    if (shape !== this.#other) {
      this.#other = shape;
      this.#lines = 0;
    }
    if (this.#lines === 0) this.#sinceMs = arrivalMs ?? Number.NaN;
    this.#lines++;
    const isSlow = this.#lines >= LINES_SLOW && arrivalMs !== null && arrivalMs - this.#sinceMs >= SLOW_MS;
    return this.#lines >= LINES || isSlow;
  }

  /** A line that only free text explains. It counts only if it has the form of an earlier one, which garbage never has. */
  text(bytes: Uint8Array, start: number, end: number, decimal: DecimalReader, arrivalMs: number | null): boolean {
    const fields = this.#fields;
    if (this.#forms.some((form) => form.read(bytes, start, end, fields, decimal))) return this.other('text', arrivalMs);
    if (readText(bytes, start, end, fields, decimal)) {
      const form = new TextFormReader(bytes, end, fields);
      this.#forms = [form, ...this.#forms.slice(0, FORMS_MAX - 1)];
    }
    return false;
  }

  reset(): void {
    this.#other = null;
    this.#lines = 0;
    this.#mixed = 0;
    this.#forms = [];
  }
}
