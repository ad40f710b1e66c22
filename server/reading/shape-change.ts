import type { DecimalReader } from './decimal.ts';
import { FieldList } from './field-list.ts';
import type { Shape } from './shape.ts';
import { readText, TextFormReader } from './text-shape.ts';

/** After this many lines of another shape, the board has a new sketch. */
const LINES = 10;
/** A slow board needs only this many, if they take at least so long. */
const LINES_SLOW = 3;
const SLOW_MS = 1500;
/** A good line takes back this much: a sketch may print lines of two shapes in turn. */
const GOOD_LINE = 0.1;

/** Notices that the lines have another shape than the one recognised. */
export class ShapeChange {
  #other: Shape | null = null;
  #lines = 0;
  #sinceMs = Number.NaN;
  #form: TextFormReader | null = null;
  readonly #fields = new FieldList();

  /** A line of the current shape. */
  good(): void {
    if (this.#lines === 0) return;
    if (this.#other === 'text') this.#lines = Math.max(0, this.#lines - GOOD_LINE);
    else this.#lines = 0;
  }

  /** A line of no shape. */
  unreadable(): void {
    if (this.#other !== 'text') this.#lines = 0;
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
    if (this.#lines < LINES && !isSlow) return false;
    this.reset();
    return true;
  }

  /** A line that only free text explains. It counts only if it has the form of an earlier one, as garbage never has. */
  text(bytes: Uint8Array, start: number, end: number, decimal: DecimalReader, arrivalMs: number | null): boolean {
    if (this.#form?.read(bytes, start, end, this.#fields, decimal)) return this.other('text', arrivalMs);
    if (this.#other !== 'text' || this.#lines < 1) {
      this.#form = readText(bytes, start, end, this.#fields, decimal)
        ? new TextFormReader(new Uint8Array(bytes.subarray(0, end)), end, this.#fields)
        : null;
    }
    return false;
  }

  reset(): void {
    this.#other = null;
    this.#lines = 0;
    this.#form = null;
  }
}
