import {
  type CandidateLine,
  emptyCandidate,
  fillCandidate,
  isPlausible,
  type ParsedLine,
  type PendingLine,
  pendingCopy,
  type Writable,
  withBinding,
} from './candidate-line.ts';
import type { ColumnsHeader } from './columns-header.ts';
import type { DecimalReader } from './decimal.ts';
import type { FieldList } from './field-list.ts';
import { KnownForms } from './known-forms.ts';
import type { Binding, LayoutBuilder } from './layout-builder.ts';
import type { LineForm } from './line-form.ts';
import { LineSequence } from './line-sequence.ts';
import { asciiText } from './line-text.ts';
import type { DropCause } from './link-counters.ts';
import type { Shape } from './shape.ts';

/** The forms that came so far on a connection, but for columns: what they mean depends on their names. */
export interface LearntForms {
  readonly forms: readonly LineForm[];
  /** Number of lines in which they came. */
  readonly lines: number;
}

export interface LineValidatorOptions {
  readonly layouts: LayoutBuilder;
  readonly header: ColumnsHeader;
  /** null = recognise it. */
  readonly shape: Shape | null;
  readonly learnt: LearntForms;
  /** Called with each line that becomes a reading; the line is valid only during the call. */
  accepted(line: CandidateLine, binding: Binding): void;
  /** Called with each line of the recognised shape whose form is not confirmed yet; its values are used only to propose. */
  sighted(form: LineForm, values: ArrayLike<number>, places: ArrayLike<number>, arrivalMs: number | null): void;
  dropped(cause: DropCause, raw: string): void;
}

const LEARNING_MAX = 20;
const DOUBTS_MAX = 3;
/** A pending line that is not confirmed within this many lines was garbage. */
const PENDING_LINES_MAX = 5;
/** After this many lines in a row with another number of columns, the board has a new sketch. */
const WRONG_COLUMNS_ROW = 10;

/**
 * Decides whether a line that can be read is accepted. A checksum of eight bits lets one damaged line in 256 pass, and many
 * boards send none. So a line with a new form, a jump of its clock or number, or an unusual number of digits is accepted
 * only if the next lines confirm it. A new form costs a line or two; a jump or a change of digits costs only the wait for
 * the next line.
 */
export class LineValidator {
  readonly #options: LineValidatorOptions;
  readonly #forms: KnownForms;
  readonly #sequence = new LineSequence();
  #shape: Shape | null;
  /** Lines that wait until the first form is confirmed; null = it is. */
  #learning: PendingLine[] | null = [];
  #isMixed = false;
  #pending: PendingLine | null = null;
  /** Number of the pending line. */
  #pendingAt = 0;
  #doubts = 0;
  /** Number of lines so far. */
  #count = 0;
  #wrongColumnsRow = 0;
  #candidate: Writable<CandidateLine> | null = null;

  constructor(options: LineValidatorOptions) {
    this.#options = options;
    this.#shape = options.shape;
    this.#forms = new KnownForms(options.learnt.forms);
    this.#count = options.learnt.lines;
    const confirmed = options.learnt.forms.find((form) => form.confirmed);
    if (confirmed === undefined || (options.shape ?? confirmed.shape) !== confirmed.shape) return;
    this.#shape = confirmed.shape;
    this.#learning = null;
    for (const form of options.learnt.forms) if (form.repeated && this.#isVouched(form)) form.confirmed = true;
  }

  /** Lines of another shape came among those by which the shape was recognised. */
  get isMixed(): boolean {
    return this.#isMixed;
  }

  /** As set, or as in the first accepted lines; null = not recognised yet. */
  get shape(): Shape | null {
    return this.#shape;
  }

  get learntForms(): LearntForms {
    const shape = this.#shape;
    return { forms: shape === null || shape === 'columns' ? [] : this.#forms.ofShape(shape), lines: this.#count };
  }

  /** After a new connection, pending lines can no longer be confirmed. */
  opened(): void {
    this.#dropPending();
    this.#sequence.opened();
    this.#doubts = 0;
  }

  /** Recognise the shape and the forms again. */
  forget(): void {
    this.#dropPending();
    this.#forms.clear();
    this.#shape = this.#options.shape;
    this.#options.header.forgetCount();
    this.#learning = [];
  }

  /** A header renamed the columns of lines with this many. */
  columnsRenamed(count: number): void {
    this.#forms.rename(count);
  }

  /** @returns null = no known form fits, or it cannot be read */
  readByKnownForm(
    shape: Shape,
    bytes: Uint8Array,
    start: number,
    end: number,
    fields: FieldList,
    decimal: DecimalReader,
  ): LineForm | null {
    return this.#forms.readByKnownForm(shape, bytes, start, end, fields, decimal);
  }

  validate(line: ParsedLine): void {
    const form = line.form ?? this.#forms.of(line.shape, line.bytes, line.textEnd, line.fields);
    this.#count++;
    if (!form.confirmed && !this.#confirmForm(form, line)) return;
    this.#wrongColumnsRow = 0;
    const binding = this.#bindingOf(form, line.arrivalMs);
    if (binding === null || !isPlausible(binding, line.fields.values)) {
      this.#options.dropped('implausible', textOf(line));
      return;
    }
    this.#candidate ??= emptyCandidate(form);
    const candidate = this.#candidate;
    fillCandidate(candidate, line, form, binding);
    candidate.jumps = !this.#sequence.continues(candidate.uptimeMs, candidate.number);
    candidate.hasOddPlaces = form.hasOddPlaces(candidate.places);
    const doubtful = candidate.jumps || candidate.hasOddPlaces;
    const pending = this.#pending;
    const confirms = pending !== null && doubtful && this.#confirmsPending(candidate, pending);
    if (pending !== null) this.#settle(pending, confirms);
    if (doubtful && !confirms) {
      if (this.#doubts < DOUBTS_MAX) {
        this.#pending = pendingCopy(candidate, textOf(line));
        this.#pendingAt = this.#count;
        return;
      }
      this.#sequence.relearn();
    }
    this.#doubts = 0;
    this.#accept(candidate, binding);
  }

  /** @returns true = the form is confirmed, and this line can be validated */
  #confirmForm(form: LineForm, line: ParsedLine): boolean {
    const learning = this.#learning;
    // A duplicate name means two lines joined into one; an unusual number of columns means part of a line.
    const hasWrongColumns = form.shape === 'columns' && this.#options.header.namesFor(form.count) === null;
    const isWrong = hasWrongColumns || form.hasDuplicateNames();
    if (!isWrong && form.countLine(this.#count, line.checked, learning !== null)) {
      form.confirmed = true;
      if (form.shape === 'columns') this.#options.header.acceptCount(form.count);
      if (learning !== null) this.#endLearning(learning, form);
      return true;
    }
    if (!isWrong && learning === null) {
      if (form.repeated && this.#isVouched(form)) {
        form.confirmed = true;
        return true;
      }
      this.#options.sighted(form, line.fields.values, line.fields.places, line.arrivalMs);
    }
    if (isWrong || learning === null) {
      this.#options.dropped('implausible', textOf(line));
      if (hasWrongColumns && ++this.#wrongColumnsRow >= WRONG_COLUMNS_ROW) {
        this.#wrongColumnsRow = 0;
        this.forget();
      }
      return false;
    }
    const overdue = learning.length >= LEARNING_MAX ? learning.shift() : undefined;
    if (overdue !== undefined) this.#options.dropped('implausible', overdue.raw);
    this.#candidate ??= emptyCandidate(form);
    fillCandidate(this.#candidate, line, form, null);
    learning.push(pendingCopy(this.#candidate, textOf(line)));
    return false;
  }

  /** The first form is confirmed: its shape is now fixed, and the lines that waited are settled in order. */
  #endLearning(learning: readonly PendingLine[], form: LineForm): void {
    this.#learning = null;
    this.#shape = form.shape;
    this.#isMixed = learning.some((line) => line.form.shape !== form.shape);
    for (const line of learning) {
      const isAlike = line.form.shape === form.shape;
      const binding = isAlike && line.form.repeated ? this.#bindingOf(line.form, line.arrivalMs) : null;
      if (binding !== null && isPlausible(binding, line.values)) {
        line.form.confirmed = true;
        this.#accept(withBinding(line, binding), binding);
      } else {
        if (isAlike) this.#options.sighted(line.form, line.values, line.places, line.arrivalMs);
        this.#options.dropped(isAlike ? 'implausible' : 'wrongShape', line.raw);
      }
    }
  }

  /**
   * A user has said what all its names mean, and no confirmed form has all of them, so that it is no part of such a line: it
   * is confirmed once it has come twice.
   */
  #isVouched({ shape, names }: LineForm): boolean {
    return (
      shape !== 'columns' &&
      names.every((name) => this.#options.layouts.isMapped(name)) &&
      !this.#forms.isConfirmed(names)
    );
  }

  #bindingOf(form: LineForm, arrivalMs: number | null): Binding | null {
    const { header, layouts } = this.#options;
    if (form.binding !== null && layouts.isCurrent(form.binding)) return form.binding;
    const names = form.shape === 'columns' ? header.namesFor(form.count) : form.names;
    form.binding = names === null ? null : layouts.bind(names, form.units, form.mappedOnly, arrivalMs ?? Number.NaN);
    return form.binding;
  }

  #confirmsPending(line: CandidateLine, pending: PendingLine): boolean {
    if (this.#count - this.#pendingAt > PENDING_LINES_MAX) return false;
    if (!this.#sequence.continuesFrom(pending, line.uptimeMs, line.number)) return false;
    if (!pending.hasOddPlaces) return true;
    return line.form === pending.form && line.form.areOddAlike(line.places, pending.places);
  }

  #settle(pending: PendingLine, confirmed: boolean): void {
    this.#pending = null;
    if (confirmed && pending.binding !== null && this.#options.layouts.isCurrent(pending.binding)) {
      this.#accept(pending, pending.binding);
    } else {
      this.#doubts++;
      this.#options.dropped('implausible', pending.raw);
    }
  }

  #accept(line: CandidateLine, binding: Binding): void {
    this.#sequence.accept(line.uptimeMs, line.countMs, line.number);
    line.form.learnPlaces(line.places);
    this.#options.accepted(line, binding);
  }

  #dropPending(): void {
    if (this.#pending !== null) this.#options.dropped('implausible', this.#pending.raw);
    for (const line of this.#learning ?? []) this.#options.dropped('implausible', line.raw);
    this.#pending = null;
    if (this.#learning !== null) this.#learning = [];
  }
}

function textOf(line: ParsedLine): string {
  return asciiText(line.bytes, line.start, line.end);
}
