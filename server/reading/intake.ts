import type { CandidateLine, ParsedLine, Writable } from './candidate-line.ts';
import { ChecksumRule, statedChecksum } from './checksum.ts';
import { ColumnsHeader } from './columns-header.ts';
import { DecimalReader } from './decimal.ts';
import { asciiText, FieldList } from './field-list.ts';
import { type Binding, LayoutBuilder, type RoleMapping } from './layout-builder.ts';
import { LostLines } from './line-sequence.ts';
import { LineSplitter } from './line-splitter.ts';
import { LineValidator } from './line-validator.ts';
import { type DropCause, type LinkCounters, LinkTally } from './link-counters.ts';
import { LINE_BYTES_MAX } from './names.ts';
import type { Layout, Reading } from './reading.ts';
import { ReadingClock } from './reading-clock.ts';
import { likelyShape, readShape, type Shape } from './shape.ts';

export interface IntakeOptions {
  readonly shape: 'auto' | Shape;
  readonly checksum: 'auto' | 'required';
  /** Names of the columns, for lines of bare numbers without a header; empty = none. */
  readonly columnNames: readonly string[];
  readonly roles: readonly RoleMapping[];
  /** UTC ms of the first reading if only the device clock can date it (recorded source). */
  readonly recordedStartMs: number;
  /** Readings are dated after this, UTC ms, because they continue a run. */
  readonly notBeforeMs?: number;
  /** Readings per second of recorded lines that have neither `ms` nor `us`; 50 by default. */
  readonly recordedRateHz?: number;
}

export interface IntakeSink {
  reading(reading: Reading): void;
  /** A note of the firmware, or a header line; `timeMs` is UTC ms. */
  note(text: string, timeMs: number): void;
  dropped?(cause: DropCause, raw: string): void;
}

/** After this many lines in a row of another shape, the board has a new sketch. */
const WRONG_SHAPE_ROW = 10;
const HASH = 35;
const NO_BYTES = new Uint8Array(0);

/**
 * Turns bytes into readings, according to the reading-line contract.
 *
 *     chunk → LineSplitter → checksum → shape → LineValidator → ReadingClock → layout → Reading
 *                  │            │         │           │
 *                  └────────────┴─────────┴───────────┴──→ dropped, counted by cause
 *
 * Garbage is counted and never throws. One intake serves one source until its settings change.
 */
export class ReadingIntake {
  readonly #options: IntakeOptions;
  readonly #splitter = new LineSplitter();
  readonly #fields = new FieldList();
  readonly #decimal = new DecimalReader();
  readonly #checksum: ChecksumRule;
  readonly #layouts: LayoutBuilder;
  readonly #header: ColumnsHeader;
  readonly #validator: LineValidator;
  readonly #lostLines = new LostLines();
  readonly #clock: ReadingClock;
  readonly #tally = new LinkTally();
  // These two objects are reused for every line, for speed.
  readonly #parsed: Writable<ParsedLine> = {
    shape: 'named',
    bytes: NO_BYTES,
    start: 0,
    end: 0,
    fields: this.#fields,
    form: null,
    checked: false,
    arrivalMs: null,
    linesAfter: 0,
  };
  readonly #timing = {
    uptimeMs: Number.NaN,
    modulusMs: 0,
    numberContinued: null as boolean | null,
    lost: 0,
    arrivalMs: null as number | null,
    linesAfter: 0,
  };
  readonly #lastLine = new Uint8Array(LINE_BYTES_MAX);
  #lastLineLength = 0;
  #lineFrom: Uint8Array = this.#lastLine;
  #lineStart = 0;
  #lineEnd = 0;
  /** The first line after a new connection is usually incomplete. */
  #isFirstLine = true;
  #wrongShape: Shape | null = null;
  #wrongShapeRow = 0;
  #noValues: number[] = [];
  #sink: IntakeSink | null = null;

  /** @throws TypeError if a mapping names a role that the contract does not have */
  constructor(options: IntakeOptions) {
    this.#options = options;
    this.#checksum = new ChecksumRule(options.checksum);
    this.#layouts = new LayoutBuilder(options.roles);
    this.#header = new ColumnsHeader(options.columnNames, (name) => this.#layouts.isKnown(name));
    this.#clock = new ReadingClock(options);
    this.#validator = new LineValidator({
      layouts: this.#layouts,
      header: this.#header,
      shape: options.shape === 'auto' ? null : options.shape,
      accepted: (line, binding) => this.#emit(line, binding),
      dropped: (cause, raw) => this.#drop(cause, raw),
    });
  }

  /** A new connection was opened, so an incomplete line of the old one is discarded. */
  opened(): void {
    this.#splitter.reset();
    this.#isFirstLine = true;
    this.#checksum.opened();
    this.#validator.opened();
    this.#clock.opened();
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

  /** As set or recognised; null = not recognised yet. */
  get shape(): Shape | null {
    return this.#validator.shape;
  }

  /** 'none' = no line has had one so far. */
  get checksum(): 'none' | 'optional' | 'required' {
    return this.#checksum.state;
  }

  /** The last line as received, even if it was dropped, with a '·' for each byte that is not printable. */
  get lastLine(): string {
    return asciiText(this.#lastLine, 0, this.#lastLineLength);
  }

  /** Without channels until there is a reading. */
  get layout(): Layout {
    return this.#layouts.layout;
  }

  #line(arrivalMs: number | null, linesAfter: number): void {
    const { bytes, start, end, tooLong, ascii, xor } = this.#splitter;
    const isFirstLine = this.#isFirstLine;
    this.#isFirstLine = false;
    if (start === end || (bytes[start]! <= 32 && isBlank(bytes, start, end))) return;
    const stated = tooLong || !ascii ? -1 : statedChecksum(bytes, start, end);
    const checked = stated >= 0 && (xor ^ bytes[end - 3]! ^ bytes[end - 2]! ^ bytes[end - 1]!) === stated;
    const isNote = bytes[start] === HASH;
    // A recorded log starts with a whole line. On a live cable only a checksum or the # of a note shows that it is whole.
    if (isFirstLine && arrivalMs !== null && !checked && (!isNote || stated >= 0 || tooLong || !ascii)) return;
    this.#tally.received++;
    this.#lineFrom = bytes;
    this.#lineStart = start;
    this.#lineEnd = end;
    if (tooLong) {
      this.#drop('tooLong');
      return;
    }
    if (!ascii) {
      this.#drop('notAscii');
      return;
    }
    if (stated >= 0 && !checked) {
      this.#checksum.countWrong();
      this.#drop('badChecksum');
      return;
    }
    const textEnd = checked ? end - 3 : end;
    if (checked) this.#checksum.countCorrect();
    if (isNote) {
      this.#note(asciiText(bytes, start + 1, textEnd).trim(), arrivalMs);
      return;
    }
    const shape = this.#validator.shape ?? likelyShape(bytes, start, textEnd);
    const form = this.#validator.readByLastForm(shape, bytes, start, textEnd, this.#fields, this.#decimal);
    const kind = form === null ? readShape(shape, bytes, start, textEnd, this.#fields, this.#decimal) : 'numbers';
    if (!checked && !this.#checksum.acceptsWithout(kind === 'numbers')) {
      this.#drop('noChecksum');
      return;
    }
    if (kind === 'numbers') {
      this.#wrongShapeRow = 0;
      const line = this.#parsed;
      line.shape = shape;
      line.form = form;
      line.bytes = bytes;
      line.start = start;
      line.end = end;
      line.checked = checked;
      line.arrivalMs = arrivalMs;
      line.linesAfter = linesAfter;
      this.#validator.validate(line);
    } else if (kind === 'header') {
      this.#readHeader(bytes, start, textEnd, checked, arrivalMs);
    } else {
      this.#unreadable(shape, bytes, start, textEnd);
    }
  }

  #readHeader(bytes: Uint8Array, start: number, end: number, checked: boolean, arrivalMs: number | null): void {
    const fields = this.#fields;
    const outcome = this.#header.offer(fields.names(bytes), checked, this.#isSeparated());
    if (outcome === 'none') {
      this.#drop('unreadable');
      return;
    }
    if (outcome === 'new') this.#validator.columnsRenamed(fields.count);
    this.#note(asciiText(bytes, start, end).trim(), arrivalMs);
  }

  /** Whether the columns have a separator other than blanks, unlike the words of a sentence. */
  #isSeparated(): boolean {
    return this.#fields.separator !== 32 && this.#fields.separator !== 0;
  }

  /** A line cannot be read in the current shape: find out whether it is a valid line of another. */
  #unreadable(shape: Shape, bytes: Uint8Array, start: number, end: number): void {
    const other = likelyShape(bytes, start, end);
    const kind = other === shape ? 'none' : readShape(other, bytes, start, end, this.#fields, this.#decimal);
    if (kind !== 'numbers') {
      // This may be the header of a new sketch that prints columns.
      if (kind === 'header') this.#header.offer(this.#fields.names(bytes), false, this.#isSeparated());
      this.#wrongShapeRow = 0;
      this.#drop('unreadable');
      return;
    }
    this.#drop('wrongShape');
    this.#wrongShapeRow = other === this.#wrongShape ? this.#wrongShapeRow + 1 : 1;
    this.#wrongShape = other;
    if (this.#options.shape !== 'auto' || this.#wrongShapeRow < WRONG_SHAPE_ROW) return;
    this.#wrongShapeRow = 0;
    this.#validator.forget();
  }

  #emit(line: CandidateLine, binding: Binding): void {
    const raw = line.values;
    this.#lostLines.next(line.number);
    const timing = this.#timing;
    timing.uptimeMs = line.uptimeMs;
    timing.modulusMs = binding.uptimeModulusMs;
    timing.numberContinued = this.#lostLines.continued;
    timing.lost = this.#lostLines.lost;
    timing.arrivalMs = line.arrivalMs;
    timing.linesAfter = line.linesAfter;
    const clock = this.#clock;
    clock.date(timing);
    const { layout } = this.#layouts;
    if (this.#noValues.length < layout.channels.length) this.#noValues = layout.channels.map(() => Number.NaN);
    const values = this.#noValues.slice();
    const { columns, factors, offsets } = binding;
    for (let i = 0; i < columns.length; i++) {
      const column = columns[i]!;
      if (column >= 0) values[column] = raw[i]! * factors[i]! + offsets[i]!;
    }
    if (binding.derivesDiameter) {
      values[layout.diameter] = (values[layout.diameterX]! + values[layout.diameterY]!) / 2;
    }
    const lostBefore = clock.restarted ? 0 : this.#lostLines.lost;
    this.#tally.readings++;
    this.#tally.lost += lostBefore;
    if (clock.restarted) this.#tally.restarts++;
    this.#sink?.reading({
      timeMs: clock.timeMs,
      layout,
      values,
      lostBefore,
      restarted: clock.restarted,
    });
  }

  #note(text: string, arrivalMs: number | null): void {
    this.#tally.notes++;
    const recordedMs = Number.isNaN(this.#clock.timeMs) ? this.#options.recordedStartMs : this.#clock.timeMs;
    this.#sink?.note(text, arrivalMs ?? recordedMs);
  }

  #drop(cause: DropCause, raw?: string): void {
    this.#tally.drop(cause);
    if (this.#sink?.dropped === undefined) return;
    this.#sink.dropped(cause, raw ?? asciiText(this.#lineFrom, this.#lineStart, this.#lineEnd));
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

function isBlank(bytes: Uint8Array, start: number, end: number): boolean {
  for (let at = start; at < end; at++) if (bytes[at] !== 32 && bytes[at] !== 9) return false;
  return true;
}
