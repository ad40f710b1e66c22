import {
  bound,
  type CandidateLine,
  emptyCandidate,
  fillCandidate,
  isPlausible,
  type LineInHand,
  type WaitingLine,
  type Writable,
  waitingLine,
} from './candidate-line.ts';
import type { ColumnsHeader } from './columns-header.ts';
import type { DecimalReader } from './decimal.ts';
import { asciiText, type FieldList } from './field-list.ts';
import { KnownForms } from './known-forms.ts';
import type { Binding, LayoutBuilder } from './layout-builder.ts';
import type { LineForm } from './line-form.ts';
import { LineSequence } from './line-sequence.ts';
import type { DropCause } from './link-counters.ts';
import type { Shape } from './shape.ts';

export interface LineValidatorOptions {
  readonly layouts: LayoutBuilder;
  readonly header: ColumnsHeader;
  /** null = to be recognised. */
  readonly shape: Shape | null;
  /** A line that is to become a reading; valid only during the call. */
  believed(line: CandidateLine, binding: Binding): void;
  dropped(cause: DropCause, raw: string): void;
}

const LEARNING_MAX = 20;
const DOUBTS_MAX = 3;
/** So many lines in a row with another number of columns: the board has a new sketch. */
const STRANGERS_MAX = 10;

/**
 * Judges whether a line that can be read is to be believed as a whole. A checksum of eight bits lets one spoilt line in
 * 256 pass, and many boards send none: so no line is believed whose form has not come before, whose clock or number
 * jumps, or whose digits are not as many as always, unless the next lines bear it out. A first sight costs a line or two,
 * a jump or a change of digits only a wait for one line more.
 */
export class LineValidator {
  readonly #options: LineValidatorOptions;
  readonly #forms = new KnownForms();
  readonly #sequence = new LineSequence();
  #shape: Shape | null;
  /** Until the first form is confirmed, lines wait for it here; null = it is. */
  #learning: WaitingLine[] | null = [];
  #suspect: WaitingLine | null = null;
  #doubts = 0;
  /** Lines so far. */
  #count = 0;
  #strangers = 0;
  #now: Writable<CandidateLine> | null = null;

  constructor(options: LineValidatorOptions) {
    this.#options = options;
    this.#shape = options.shape;
  }

  /** As set, or as the first good lines have it. */
  get shape(): Shape | null {
    return this.#shape;
  }

  /** A new connection: what waits can no longer be borne out. */
  opened(): void {
    this.#dropWaiting();
    this.#sequence.opened();
    this.#doubts = 0;
  }

  /** Recognise the shape and the forms anew. */
  forget(): void {
    this.#dropWaiting();
    this.#forms.clear();
    this.#shape = this.#options.shape;
    this.#options.header.forget();
    this.#learning = [];
  }

  /** A header gave columns of this number new names. */
  renamed(count: number): void {
    this.#forms.rename(count);
  }

  /** Read a line as one of the form that the line before had. @returns null = it has another, or is none */
  readAsBefore(
    shape: Shape,
    bytes: Uint8Array,
    start: number,
    end: number,
    fields: FieldList,
    decimal: DecimalReader,
  ): LineForm | null {
    return this.#forms.readAsBefore(shape, bytes, start, end, fields, decimal);
  }

  judge(line: LineInHand): void {
    const form = line.form ?? this.#forms.of(line.shape, line.bytes, line.fields);
    this.#count++;
    if (!form.confirmed && !this.#confirm(form, line)) return;
    this.#strangers = 0;
    const binding = this.#bindingOf(form);
    if (binding === null || !isPlausible(binding, line.fields.values)) {
      this.#options.dropped('implausible', textOf(line));
      return;
    }
    this.#now ??= emptyCandidate(form);
    const now = this.#now;
    fillCandidate(now, line, form, binding);
    now.jumps = !this.#sequence.goesOn(now.uptimeMs, now.number);
    now.odd = form.hasOddPlaces(now.places);
    const doubtful = now.jumps || now.odd;
    const waiting = this.#suspect;
    const borneOut = waiting !== null && doubtful && this.#bearsOut(waiting, now);
    if (waiting !== null) this.#settle(waiting, borneOut);
    if (doubtful && !borneOut) {
      if (this.#doubts < DOUBTS_MAX) {
        this.#suspect = waitingLine(now, textOf(line));
        return;
      }
      this.#sequence.giveUp();
    }
    this.#doubts = 0;
    this.#believe(now, binding);
  }

  /** @returns true = the form is confirmed, and this line is still to be judged */
  #confirm(form: LineForm, line: LineInHand): boolean {
    const learning = this.#learning;
    // A name that comes twice is two lines spliced into one; another number of columns than always is half a line.
    const isStranger = form.shape === 'columns' && this.#options.header.namesFor(form.count) === null;
    const isWrong = isStranger || form.hasTwins();
    if (!isWrong && form.sighted(this.#count, line.checked, learning !== null)) {
      form.confirmed = true;
      if (form.shape === 'columns') this.#options.header.believe(form.count);
      if (learning !== null) this.#endLearning(learning, form);
      return true;
    }
    if (isWrong || learning === null) {
      this.#options.dropped('implausible', textOf(line));
      if (isStranger && ++this.#strangers >= STRANGERS_MAX) {
        this.#strangers = 0;
        this.forget();
      }
      return false;
    }
    if (learning.length >= LEARNING_MAX) this.#options.dropped('implausible', learning.shift()!.raw);
    this.#now ??= emptyCandidate(form);
    fillCandidate(this.#now, line, form, null);
    learning.push(waitingLine(this.#now, textOf(line)));
    return false;
  }

  /** The first form is confirmed: its shape holds, and the lines that waited go their way in order. */
  #endLearning(learning: readonly WaitingLine[], form: LineForm): void {
    this.#learning = null;
    this.#shape = form.shape;
    for (const line of learning) {
      const isAlike = line.form.shape === form.shape;
      const binding = isAlike && line.form.repeated ? this.#bindingOf(line.form) : null;
      if (binding !== null && isPlausible(binding, line.values)) {
        line.form.confirmed = true;
        this.#believe(bound(line, binding), binding);
      } else {
        this.#options.dropped(isAlike ? 'implausible' : 'wrongShape', line.raw);
      }
    }
  }

  #bindingOf(form: LineForm): Binding | null {
    if (form.binding !== null) return form.binding;
    const { header, layouts } = this.#options;
    const names = form.shape === 'columns' ? header.namesFor(form.count) : form.names;
    form.binding = names === null ? null : layouts.bind(names);
    return form.binding;
  }

  #bearsOut(waiting: WaitingLine, now: CandidateLine): boolean {
    if (!this.#sequence.follows(waiting, now.uptimeMs, now.number)) return false;
    return !waiting.odd || (now.form === waiting.form && now.form.isOddAlike(now.places, waiting.places));
  }

  #settle(waiting: WaitingLine, borneOut: boolean): void {
    this.#suspect = null;
    if (borneOut && waiting.binding !== null) {
      this.#believe(waiting, waiting.binding);
    } else {
      this.#doubts++;
      this.#options.dropped('implausible', waiting.raw);
    }
  }

  #believe(line: CandidateLine, binding: Binding): void {
    this.#sequence.accept(line.uptimeMs, line.modulusMs, line.number);
    line.form.learnPlaces(line.places);
    this.#options.believed(line, binding);
  }

  #dropWaiting(): void {
    if (this.#suspect !== null) this.#options.dropped('implausible', this.#suspect.raw);
    for (const line of this.#learning ?? []) this.#options.dropped('implausible', line.raw);
    this.#suspect = null;
    if (this.#learning !== null) this.#learning = [];
  }
}

function textOf(line: LineInHand): string {
  return asciiText(line.bytes, line.start, line.end);
}
