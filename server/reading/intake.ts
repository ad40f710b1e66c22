import { emptyLine } from './candidate-line.ts';
import { ChecksumRule, checksumOf, statedChecksum } from './checksum.ts';
import { ColumnsHeader } from './columns-header.ts';
import { DecimalReader } from './decimal.ts';
import { FieldList } from './field-list.ts';
import type { DroppedLine, IntakeOptions, IntakeSink, Learnt } from './intake-options.ts';
import { LayoutBuilder } from './layout-builder.ts';
import { LineSplitter } from './line-splitter.ts';
import { asciiText, isBlank, nameText, printable } from './line-text.ts';
import { LineValidator } from './line-validator.ts';
import { type DropCause, type LinkCounters, LinkTally } from './link-counters.ts';
import { LINE_BYTES_MAX } from './names.ts';
import { PointedNumbers } from './pointed-numbers.ts';
import type { Layout } from './reading.ts';
import { ReadingBuilder } from './reading-builder.ts';
import { RepeatedText } from './repeated-text.ts';
import { type SeenField, SeenFields } from './seen-fields.ts';
import { likelyShape, readShape, type Shape } from './shape.ts';
import { ShapeChange } from './shape-change.ts';
import { readText } from './text-shape.ts';
import { stampLength, TIME_TITLE } from './time-stamp.ts';

const DROPPED_KEPT = 5;
const [HASH, BLANK] = [35, 32];

/**
 * Turns bytes into readings, according to the reading-line contract.
 *
 *     chunk → LineSplitter → checksum → shape → LineValidator → ReadingBuilder → Reading
 *                  │            │         │           │
 *                  └────────────┴─────────┴───────────┴──→ dropped, counted by cause
 *
 * Garbage is counted and never throws. One intake serves one source until its settings change.
 */
export class ReadingIntake {
  readonly #options: IntakeOptions;
  readonly #splitter = new LineSplitter();
  readonly #fields = new FieldList();
  /** Used to find out whether a line has another shape. */
  readonly #otherFields = new FieldList();
  readonly #decimal = new DecimalReader();
  readonly #checksum: ChecksumRule;
  readonly #layouts: LayoutBuilder;
  readonly #header: ColumnsHeader;
  readonly #validator: LineValidator;
  readonly #builder: ReadingBuilder;
  readonly #tally = new LinkTally();
  readonly #pointed: PointedNumbers;
  // Reused for every line, for speed.
  readonly #parsed = emptyLine(this.#fields);
  readonly #lastLine = new Uint8Array(LINE_BYTES_MAX);
  #lastLineLength = 0;
  #lineFrom: Uint8Array = this.#lastLine;
  #lineStart = 0;
  #lineEnd = 0;
  /** The first line after a new connection is usually incomplete. */
  #isFirstLine = true;
  readonly #shapeChange = new ShapeChange();
  readonly #repeatedText: RepeatedText;
  /** Lines are read as free text, although some have another shape. */
  #prefersText = false;
  /** Before the last change: damage may have looked like a new sketch. */
  #shapeBefore: Shape | null = null;
  #seen: SeenFields;
  #dropped: readonly DroppedLine[] = [];
  #sink: IntakeSink | null = null;

  /** @throws TypeError if a mapping names a role that the contract does not have */
  constructor(options: IntakeOptions) {
    this.#options = options;
    this.#checksum = new ChecksumRule(options.checksum);
    this.#pointed = new PointedNumbers(options.pointedAt ?? []);
    this.#prefersText = this.#pointed.isUsed;
    this.#layouts = new LayoutBuilder(options.roles, (names) => this.#sink?.forgot?.(names));
    this.#header = new ColumnsHeader(
      options.columnNames,
      (name) => this.#layouts.isKnown(name),
      options.learnt?.headers,
    );
    this.#builder = new ReadingBuilder(options, this.#layouts, this.#tally);
    this.#seen = options.learnt?.seen ?? new SeenFields();
    this.#repeatedText = options.learnt?.texts ?? new RepeatedText();
    this.#validator = new LineValidator({
      layouts: this.#layouts,
      header: this.#header,
      shape: options.shape === 'auto' ? null : options.shape,
      learnt: options.learnt?.forms ?? { forms: [], lines: 0 },
      accepted: (line, binding) => {
        this.#builder.add(line, binding, this.#sink);
        this.#seen.add(binding, line.values, line.places, line.arrivalMs ?? this.#builder.timeMs, this.#tally.received);
      },
      sighted: (form, values, places, arrivalMs) =>
        this.#seen.sight(form, values, places, arrivalMs ?? this.#builder.timeMs, this.#tally.received),
      dropped: (cause, raw) => this.#drop(cause, raw),
    });
    if (options.learnt !== undefined) this.#holdSetpoints();
  }

  /** A set-point that was sent before its meaning was known holds until another one is sent, which may take all night. */
  #holdSetpoints(): void {
    const fields = this.#seen.all();
    const sent = this.#options.roles.flatMap(({ name, role }) => {
      const field = /^s\d$/.test(role) ? fields.find((one) => one.name === name) : undefined;
      return field === undefined ? [] : [field];
    });
    const binding = sent.length === 0 ? null : this.#layouts.bind(sent.map(({ name }) => name));
    if (binding !== null)
      this.#builder.hold(
        binding,
        sent.map(({ last }) => last),
      );
  }

  /** A new connection was opened, so an incomplete line of the old one is discarded. */
  opened(): void {
    this.#splitter.reset();
    this.#isFirstLine = true;
    this.#checksum.opened();
    this.#header.opened();
    this.#validator.opened();
    this.#repeatedText.opened();
    this.#builder.opened();
  }

  /** The clock by which arrivals are dated was set. */
  clockMoved(byMs: number): void {
    this.#builder.clockMoved(byMs);
  }

  /**
   * Read the next bytes.
   * @param arrivalMs UTC ms on a clock that never steps; null = recorded
   */
  push(chunk: Uint8Array, arrivalMs: number | null, sink: IntakeSink): void {
    this.#sink = sink;
    this.#splitter.feed(chunk);
    let linesLeft = arrivalMs === null ? 0 : this.#splitter.linesLeft();
    this.#lineEnd = -1;
    while (this.#splitter.next()) this.#line(arrivalMs, Math.max(0, --linesLeft));
    this.#keepLastLine();
    this.#sink = null;
  }

  counters(): LinkCounters {
    return this.#tally.counters();
  }

  /** Number of restarts of the device. */
  get restarts(): number {
    return this.#tally.restarts;
  }

  /** Readings whose times are not certain: their lines have no clock, had waited, and arrived at once. */
  get spreadReadings(): number {
    return this.#builder.spreadReadings;
  }

  /** As set or recognised; null = not recognised yet. */
  get shape(): Shape | null {
    return this.#validator.shape;
  }

  /** 'none' = no line has had one so far. */
  get checksum(): 'none' | 'optional' | 'required' {
    return this.#checksum.state;
  }

  /** The last line as received, even if it was dropped, with a '·' for each control byte. */
  get lastLine(): string {
    return printable(this.#lastLine, 0, this.#lastLineLength);
  }

  /** For the next intake on this connection; this one must not be used any more. */
  get learnt(): Learnt {
    return {
      headers: this.#header.seen,
      forms: this.#validator.learntForms,
      seen: this.#seen,
      texts: this.#repeatedText,
    };
  }

  /** What was seen of each field of the current shape, in the order of the line. */
  seenFields(): readonly SeenField[] {
    return this.#seen.all();
  }

  /** The last lines that were dropped, newest first. */
  get droppedLines(): readonly DroppedLine[] {
    return this.#dropped;
  }

  /** Without signals until there is a reading. */
  get layout(): Layout {
    return this.#layouts.layout;
  }

  #line(arrivalMs: number | null, linesAfter: number): void {
    const { bytes, start, end, tooLong, ascii, hasControl, xor } = this.#splitter;
    const isFirstLine = this.#isFirstLine;
    this.#isFirstLine = false;
    if (start === end || (bytes[start]! <= 32 && isBlank(bytes, start, end))) return;
    const stated = tooLong || hasControl ? -1 : statedChecksum(bytes, start, end);
    const checked = stated >= 0 && checksumOf(bytes, start, end, xor) === stated;
    const isNote = bytes[start] === HASH;
    // A recorded log starts with a whole line. On a live cable only a checksum or the # of a note shows that it is whole.
    const isCut = isFirstLine && arrivalMs !== null && !checked && (!isNote || stated >= 0 || tooLong || !ascii);
    if (isCut && (stated >= 0 || tooLong || hasControl || !this.#isTitles(start, end))) return;
    this.#tally.received++;
    this.#lineFrom = bytes;
    this.#lineStart = start;
    this.#lineEnd = end;
    if (isCut) {
      this.#readHeader(bytes, start, end, false, arrivalMs);
      return;
    }
    if (tooLong) {
      this.#drop('tooLong');
      return;
    }
    if (hasControl) {
      this.#drop('notAscii');
      return;
    }
    if (stated >= 0 && !checked) {
      this.#checksum.countWrong();
      this.#drop('badChecksum');
      return;
    }
    const textTo = checked ? end - 3 : end;
    if (checked) this.#checksum.countCorrect();
    if (isNote) {
      this.#note(asciiText(bytes, start + 1, textTo).trim(), arrivalMs);
      return;
    }
    this.#pointed.pick(bytes, start + stampLength(bytes, start, textTo), textTo);
    const { bytes: text, start: textStart, end: textEnd } = this.#pointed;
    const recognised = this.#validator.shape;
    // A line with bytes beyond ASCII can only be free text, or the titles of columns.
    const isTitles = !ascii && this.#isTitles(textStart, textEnd);
    const isText = this.#prefersText || !ascii;
    let shape = isTitles ? 'columns' : (recognised ?? (isText ? 'text' : likelyShape(text, textStart, textEnd)));
    if (!ascii && !isTitles && shape !== 'text') {
      this.#notAscii(text, textStart, textEnd, arrivalMs);
      return;
    }
    let form = this.#validator.readByKnownForm(shape, text, textStart, textEnd, this.#fields, this.#decimal);
    let kind = form === null ? readShape(shape, text, textStart, textEnd, this.#fields, this.#decimal) : 'numbers';
    if (kind === 'none' && recognised === null) {
      form = this.#validator.readByKnownForm('text', text, textStart, textEnd, this.#fields, this.#decimal);
      if (form !== null || readText(text, textStart, textEnd, this.#fields, this.#decimal)) {
        shape = 'text';
        kind = 'numbers';
      }
    }
    if (!checked) {
      if (!this.#checksum.required) this.#checksum.countWithout();
      else if (!this.#isAcceptedWithout(textStart, textEnd, kind === 'numbers', recognised)) return;
    }
    if (kind === 'numbers') {
      if (recognised === 'text' && form?.confirmed !== true && this.#isOther(textStart, textEnd, arrivalMs)) return;
      this.#shapeChange.good();
      this.#repeatedText.values();
      const line = this.#parsed;
      line.shape = shape;
      line.form = form;
      line.bytes = text;
      line.start = this.#pointed.isUsed ? textStart : start;
      line.end = this.#pointed.isUsed ? textEnd : end;
      line.textEnd = textEnd;
      line.checked = checked;
      line.arrivalMs = arrivalMs;
      line.linesAfter = linesAfter;
      this.#validator.validate(line);
      // Some of its lines look like those of another shape, but all can be read as text.
      if (recognised === null && this.#validator.shape === 'text' && this.#validator.isMixed) this.#prefersText = true;
    } else if (kind === 'header') {
      this.#readHeader(text, textStart, textEnd, checked, arrivalMs);
    } else {
      this.#unreadable(shape, text, textStart, textEnd, arrivalMs);
    }
  }

  /**
   * Whether a line holds titles of columns, kept apart by something other than blanks. Many a board prints them only once, as
   * the first line after the reset that opening its port causes; if they are not whole, their number is nearly always another.
   */
  #isTitles(start: number, end: number): boolean {
    if ((this.#validator.shape ?? 'columns') !== 'columns' || this.#prefersText) return false;
    const fields = this.#fields;
    const kind = readShape('columns', this.#splitter.bytes, start, end, fields, this.#decimal);
    return kind === 'header' && fields.separator !== 0 && fields.separator !== BLANK;
  }

  /** Whether a line without a required checksum may be used; if not, it is dropped. */
  #isAcceptedWithout(start: number, end: number, readable: boolean, shape: Shape | null): boolean {
    const isOther = () => this.#isOfOtherShape(start, end, shape);
    const isAccepted = this.#checksum.acceptsWithout(readable, isOther);
    const isNewSketch = isAccepted && isOther();
    if (isAccepted && !isNewSketch) return true;
    this.#drop('noChecksum');
    if (isNewSketch) this.#changeShape(false);
    return false;
  }

  /** Whether a line is valid in another shape than this. */
  #isOfOtherShape(start: number, end: number, current: Shape | null): boolean {
    if (this.#pointed.isUsed) return false;
    const { bytes } = this.#splitter;
    const other = likelyShape(bytes, start, end);
    return other !== current && readShape(other, bytes, start, end, this.#otherFields, this.#decimal) === 'numbers';
  }

  #readHeader(bytes: Uint8Array, start: number, end: number, checked: boolean, arrivalMs: number | null): void {
    const names = this.#fields.names(bytes);
    const outcome = this.#offerHeader(names, checked);
    if (outcome === 'none') {
      this.#unreadable('columns', bytes, start, end, arrivalMs);
      return;
    }
    if (outcome === 'new') this.#renameColumns(names.length);
    this.#note(nameText(bytes, start, end).trim(), arrivalMs);
  }

  /** A header may name the time stamps too, which are no column. */
  #offerHeader(names: readonly string[], checked: boolean): 'new' | 'same' | 'none' {
    const [first = '', ...others] = names;
    // Columns with a separator other than blanks are not the words of a sentence.
    const separated = ![0, BLANK].includes(this.#fields.separator);
    if (TIME_TITLE.test(first) && others.length > 0 && this.#header.offer(others, checked, separated) === 'new')
      this.#renameColumns(others.length);
    return this.#header.offer(names, checked, separated);
  }

  #renameColumns(count: number): void {
    this.#validator.columnsRenamed(count);
    this.#seen = new SeenFields();
  }

  /** A line cannot be read in the current shape: find out whether it is a valid line of another. */
  #unreadable(shape: Shape, bytes: Uint8Array, start: number, end: number, arrivalMs: number | null): void {
    const other = likelyShape(bytes, start, end);
    const kind = other === shape ? 'none' : readShape(other, bytes, start, end, this.#fields, this.#decimal);
    if (kind === 'numbers') {
      this.#drop('wrongShape');
      if (this.#shapeChange.other(other, arrivalMs)) this.#changeShape(false);
      return;
    }
    // This may be the header of a new sketch that prints columns.
    if (kind === 'header') this.#offerHeader(this.#fields.names(bytes), false);
    if (this.#repeatedText.take(nameText(bytes, start, end), this.#tally.received, () => this.#seen.names())) return;
    this.#drop('unreadable');
    if (shape === 'text' || kind === 'header') this.#shapeChange.unreadable();
    else if (this.#isText(bytes, start, end, arrivalMs)) this.#changeShape(this.#shapeChange.isOneSketch);
  }

  /** Bytes beyond ASCII do not belong into this shape, but may be the free text of a new sketch. */
  #notAscii(bytes: Uint8Array, start: number, end: number, arrivalMs: number | null): void {
    this.#drop('notAscii');
    if (this.#isText(bytes, start, end, arrivalMs)) this.#changeShape(this.#shapeChange.isOneSketch);
  }

  #isText(bytes: Uint8Array, start: number, end: number, arrivalMs: number | null): boolean {
    return this.#shapeChange.text(bytes, start, end, this.#decimal, arrivalMs, (name) => this.#seen.has(name));
  }

  /** Whether a new form of free text is a valid line of another shape: then it is not accepted as text. */
  #isOther(start: number, end: number, arrivalMs: number | null): boolean {
    if (this.#prefersText || this.#options.shape !== 'auto' || !this.#isOfOtherShape(start, end, 'text')) return false;
    // The same sketch, which prints only what has changed.
    const names = this.#otherFields.names(this.#splitter.bytes);
    const other = likelyShape(this.#splitter.bytes, start, end);
    if (other !== this.#shapeBefore && names.length > 0 && names.every((name) => this.#seen.has(name))) return false;
    if (this.#shapeChange.isMixed) {
      this.#prefersText = true;
      return false;
    }
    this.#drop('wrongShape');
    if (this.#shapeChange.other(other, arrivalMs)) this.#changeShape(false);
    return true;
  }

  #changeShape(prefersText: boolean): void {
    if (this.#options.shape !== 'auto') return;
    this.#prefersText = prefersText;
    this.#shapeBefore = this.#validator.shape;
    if (!prefersText) this.#seen = new SeenFields();
    this.#shapeChange.reset();
    this.#repeatedText.forget();
    this.#validator.forget();
    this.#builder.discard();
  }

  #note(text: string, arrivalMs: number | null): void {
    this.#tally.notes++;
    const recordedMs = Number.isNaN(this.#builder.timeMs) ? this.#options.recordedStartMs : this.#builder.timeMs;
    this.#sink?.note(text, arrivalMs ?? recordedMs);
  }

  #drop(cause: DropCause, raw?: string): void {
    this.#tally.drop(cause);
    const text = raw ?? printable(this.#lineFrom, this.#lineStart, this.#lineEnd);
    this.#dropped = [{ text, cause }, ...this.#dropped.slice(0, DROPPED_KEPT - 1)];
    this.#sink?.dropped?.(cause, text);
  }

  #keepLastLine(): void {
    if (this.#lineEnd < 0) return;
    this.#lastLine.set(this.#lineFrom.subarray(this.#lineStart, this.#lineEnd));
    this.#lastLineLength = this.#lineEnd - this.#lineStart;
    this.#lineFrom = this.#lastLine;
    this.#lineStart = 0;
    this.#lineEnd = this.#lastLineLength;
  }
}
