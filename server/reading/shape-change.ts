import type { DecimalReader } from './decimal.ts';
import { FieldList } from './field-list.ts';
import { LineForm } from './line-form.ts';
import type { Shape } from './shape.ts';
import { readText } from './text-shape.ts';

/** After this many lines of another shape, the board has a new sketch. */
const LINES = 10;
/** A slow board needs only this many, if they take at least so long. */
const LINES_SLOW = 3;
const SLOW_MS = 1500;
/** A good line takes back this much of what free text counted: a sketch may print lines of two shapes in turn. */
const GOOD_LINE = 0.1;
/** Damage hardly ever makes the same new name again, so little is taken back where lines of text have names of their own. */
const GOOD_LINE_OWN_NAMES = 0.03;
/** After this many lines of another shape among good ones, a sketch prints both. */
const MIXED = 3;
const FORMS_MAX = 8;

/** Notices that the lines have another shape than the one recognised. */
export class ShapeChange {
  #other: Shape | null = null;
  #lines = 0;
  #sinceMs = Number.NaN;
  #mixed = 0;
  #hasGood = false;
  #takenBack = GOOD_LINE;
  #forms: LineForm[] = [];
  readonly #fields = new FieldList();

  /** A line of the current shape. */
  good(): void {
    if (this.#lines === 0) return;
    this.#hasGood = true;
    if (this.#other === 'text') this.#lines = Math.max(0, this.#lines - this.#takenBack);
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

  /** Good lines went on coming between those of another shape, so both are from one sketch. */
  get isOneSketch(): boolean {
    return this.#hasGood;
  }

  /** A line that is a valid one of another shape. @returns true = the shape has changed */
  other(shape: Shape, arrivalMs: number | null): boolean {
    if (shape !== this.#other) {
      this.#other = shape;
      this.#lines = 0;
    }
    if (this.#lines === 0) {
      this.#sinceMs = arrivalMs ?? Number.NaN;
      this.#hasGood = false;
    }
    this.#lines++;
    const isSlow = this.#lines >= LINES_SLOW && arrivalMs !== null && arrivalMs - this.#sinceMs >= SLOW_MS;
    return this.#lines >= LINES || isSlow;
  }

  /**
   * A line that only free text explains. It counts only if it has the form of an earlier one, which garbage never has.
   * @param isKnown whether good lines have a name
   */
  text(
    bytes: Uint8Array,
    start: number,
    end: number,
    decimal: DecimalReader,
    arrivalMs: number | null,
    isKnown: (name: string) => boolean,
  ): boolean {
    const fields = this.#fields;
    const known = this.#forms.find((form) => form.read(bytes, start, end, fields, decimal));
    if (known !== undefined) {
      const isOwn = known.names.every((name) => !isNumbered(name) && !isKnown(name));
      this.#takenBack = isOwn ? GOOD_LINE_OWN_NAMES : GOOD_LINE;
      return this.other('text', arrivalMs);
    }
    if (readText(bytes, start, end, fields, decimal)) {
      const form = new LineForm('text', bytes, end, fields);
      this.#forms = [form, ...this.#forms.slice(0, FORMS_MAX - 1)];
    }
    return false;
  }

  reset(): void {
    this.#other = null;
    this.#lines = 0;
    this.#mixed = 0;
    this.#hasGood = false;
    this.#forms = [];
  }
}

/** A number without words is only counted, as damaged columns are. */
function isNumbered(name: string): boolean {
  return /^value \d+$/.test(name);
}
