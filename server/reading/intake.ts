import type { CandidateLine, LineInHand, Writable } from './candidate-line.ts';
import { ChecksumRule, statedChecksum } from './checksum.ts';
import { ColumnsHeader } from './columns-header.ts';
import { DecimalReader } from './decimal.ts';
import { asciiText, FieldList } from './field-list.ts';
import { type Binding, LayoutBuilder, type RoleMapping } from './layout-builder.ts';
import { LineNumbers } from './line-numbers.ts';
import { LineSplitter } from './line-splitter.ts';
import { LineValidator } from './line-validator.ts';
import type { DropCause, LinkCounters } from './link-counters.ts';
import { LinkTally } from './link-tally.ts';
import { LINE_BYTES_MAX } from './names.ts';
import type { Layout, Reading } from './reading.ts';
import { ReadingClock } from './reading-clock.ts';
import { likelyShape, readShape, type Shape } from './shape.ts';

export interface IntakeOptions {
  readonly shape: 'auto' | Shape;
  readonly checksum: 'auto' | 'required';
  /** Names of the columns, for bare numbers without a header; empty = none. */
  readonly columnNames: readonly string[];
  readonly roles: readonly RoleMapping[];
  /** UTC ms given to the first reading where only the device clock can date it (recorded source). */
  readonly recordedStartMs: number;
  /** Readings are dated after this, UTC ms: a run that goes on. */
  readonly notBeforeMs?: number;
  /** Readings a second of recorded lines that have neither `ms` nor `us`; else 50. */
  readonly recordedRateHz?: number;
}

export interface IntakeSink {
  reading(reading: Reading): void;
  /** A note of the firmware, or a header line; `timeMs` is UTC ms. */
  note(text: string, timeMs: number): void;
  dropped?(cause: DropCause, raw: string): void;
}

/** So many lines in a row of another shape than the one that was recognised: the board has a new sketch. */
const WRONG_SHAPE_ROW = 10;
const HASH = 35;
const NO_BYTES = new Uint8Array(0);

/**
 * Bytes in, readings out: the whole of the reading-line contract.
 *
 *     chunk → LineSplitter → checksum → shape → LineJudge → ReadingClock → layout → Reading
 *                  │            │         │         │
 *                  └────────────┴─────────┴─────────┴──→ dropped, counted by cause
 *
 * Garbage is a value, never an exception. One intake serves one source for as long as its settings stay.
 */
export class ReadingIntake {
  readonly #options: IntakeOptions;
  readonly #splitter = new LineSplitter();
  readonly #fields = new FieldList();
  readonly #decimal = new DecimalReader();
  readonly #checksum: ChecksumRule;
  readonly #layouts: LayoutBuilder;
  readonly #header: ColumnsHeader;
  readonly #judge: LineValidator;
  readonly #numbers = new LineNumbers();
  readonly #clock: ReadingClock;
  readonly #tally = new LinkTally();
  // Used again for every line, for speed.
  readonly #inHand: Writable<LineInHand> = {
    shape: 'named',
    bytes: NO_BYTES,
    start: 0,
    end: 0,
    fields: this.#fields,
    form: null,
    checked: false,
    arrivalMs: null,
    linesBehind: 0,
  };
  readonly #timing = {
    uptimeMs: Number.NaN,
    modulusMs: 0,
    numberWentOn: null as boolean | null,
    lost: 0,
    arrivalMs: null as number | null,
    linesBehind: 0,
  };
  readonly #lastLine = new Uint8Array(LINE_BYTES_MAX);
  #lastLineLength = 0;
  #lineFrom: Uint8Array = this.#lastLine;
  #lineStart = 0;
  #lineEnd = 0;
  /** The first piece after a connection is usually the tail of a line. */
  #firstPiece = true;
  #wrongShape: Shape | null = null;
  #wrongShapeRow = 0;
  #blank: number[] = [];
  #sink: IntakeSink | null = null;

  /** @throws TypeError a mapping names a role that the contract does not have */
  constructor(options: IntakeOptions) {
    this.#options = options;
    this.#checksum = new ChecksumRule(options.checksum);
    this.#layouts = new LayoutBuilder(options.roles);
    this.#header = new ColumnsHeader(options.columnNames, (name) => this.#layouts.isKnown(name));
    this.#clock = new ReadingClock(options);
    this.#judge = new LineValidator({
      layouts: this.#layouts,
      header: this.#header,
      shape: options.shape === 'auto' ? null : options.shape,
      believed: (line, binding) => this.#emit(line, binding),
      dropped: (cause, raw) => this.#drop(cause, raw),
    });
  }

  /** A new connection: what is half received belongs to the old one. */
  opened(): void {
    this.#splitter.reset();
    this.#firstPiece = true;
    this.#checksum.opened();
    this.#judge.opened();
    this.#clock.opened();
  }

  /**
   * Take in bytes as they came.
   * @param arrivalMs UTC ms on a clock that never steps; null = recorded
   */
  push(chunk: Uint8Array, arrivalMs: number | null, sink: IntakeSink): void {
    this.#sink = sink;
    this.#splitter.feed(chunk);
    let linesBehind = arrivalMs === null ? 0 : this.#splitter.linesBehind();
    this.#lineEnd = -1;
    while (this.#splitter.next()) this.#line(arrivalMs, Math.max(0, --linesBehind));
    this.#keepLastLine();
    this.#sink = null;
  }

  counters(): LinkCounters {
    return this.#tally.counters();
  }

  /** How often the device has restarted. */
  get restarts(): number {
    return this.#tally.restarts;
  }

  /** As set or recognised; null = not yet. */
  get shape(): Shape | null {
    return this.#judge.shape;
  }

  /** 'none' = no line had one so far. */
  get checksum(): 'none' | 'optional' | 'required' {
    return this.#checksum.state;
  }

  /** The last line as it came, also a dropped one; '·' stands for what is not printable. */
  get lastLine(): string {
    return asciiText(this.#lastLine, 0, this.#lastLineLength);
  }

  /** null = no reading so far. */
  get layout(): Layout | null {
    return this.#layouts.layout;
  }

  #line(arrivalMs: number | null, linesBehind: number): void {
    const { bytes, start, end, tooLong, ascii, xor } = this.#splitter;
    const firstPiece = this.#firstPiece;
    this.#firstPiece = false;
    if (start === end || (bytes[start]! <= 32 && isBlank(bytes, start, end))) return;
    const stated = tooLong || !ascii ? -1 : statedChecksum(bytes, start, end);
    const checked = stated >= 0 && (xor ^ bytes[end - 3]! ^ bytes[end - 2]! ^ bytes[end - 1]!) === stated;
    const isNote = bytes[start] === HASH;
    // A recorded log begins with a whole line; on a live cable only the checksum or the # of a note can show one.
    if (firstPiece && arrivalMs !== null && !checked && (!isNote || stated >= 0 || tooLong || !ascii)) return;
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
      this.#checksum.bad();
      this.#drop('badChecksum');
      return;
    }
    const textEnd = checked ? end - 3 : end;
    if (checked) this.#checksum.good();
    if (isNote) {
      this.#note(asciiText(bytes, start + 1, textEnd).trim(), arrivalMs);
      return;
    }
    const shape = this.#judge.shape ?? likelyShape(bytes, start, textEnd);
    const form = this.#judge.readAsBefore(shape, bytes, start, textEnd, this.#fields, this.#decimal);
    const kind = form === null ? readShape(shape, bytes, start, textEnd, this.#fields, this.#decimal) : 'numbers';
    if (!checked && !this.#checksum.bare(kind === 'numbers')) {
      this.#drop('noChecksum');
      return;
    }
    if (kind === 'numbers') {
      this.#wrongShapeRow = 0;
      const line = this.#inHand;
      line.shape = shape;
      line.form = form;
      line.bytes = bytes;
      line.start = start;
      line.end = end;
      line.checked = checked;
      line.arrivalMs = arrivalMs;
      line.linesBehind = linesBehind;
      this.#judge.judge(line);
    } else if (kind === 'header') {
      this.#takeHeader(bytes, start, textEnd, checked, arrivalMs);
    } else {
      this.#unreadable(shape, bytes, start, textEnd);
    }
  }

  #takeHeader(bytes: Uint8Array, start: number, end: number, checked: boolean, arrivalMs: number | null): void {
    const fields = this.#fields;
    const outcome = this.#header.offer(fields.names(bytes), checked, this.#isSeparated());
    if (outcome === 'none') {
      this.#drop('unreadable');
      return;
    }
    if (outcome === 'new') this.#judge.renamed(fields.count);
    this.#note(asciiText(bytes, start, end).trim(), arrivalMs);
  }

  /** Columns set apart by more than blanks, as the words of a sentence are not. */
  #isSeparated(): boolean {
    return this.#fields.separator !== 32 && this.#fields.separator !== 0;
  }

  /** A line that cannot be read in the shape that holds: is it a good one of another? */
  #unreadable(shape: Shape, bytes: Uint8Array, start: number, end: number): void {
    const other = likelyShape(bytes, start, end);
    const kind = other === shape ? 'none' : readShape(other, bytes, start, end, this.#fields, this.#decimal);
    if (kind !== 'numbers') {
      // Should the board have a new sketch that prints columns, this was its header.
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
    this.#judge.forget();
  }

  #emit(line: CandidateLine, binding: Binding): void {
    const raw = line.values;
    this.#numbers.next(line.number);
    const timing = this.#timing;
    timing.uptimeMs = line.uptimeMs;
    timing.modulusMs = binding.uptimeModulusMs;
    timing.numberWentOn = this.#numbers.wentOn;
    timing.lost = this.#numbers.lost;
    timing.arrivalMs = line.arrivalMs;
    timing.linesBehind = line.linesBehind;
    const clock = this.#clock;
    clock.date(timing);
    const layout = this.#layouts.layout!;
    if (this.#blank.length < layout.channels.length) this.#blank = layout.channels.map(() => Number.NaN);
    const values = this.#blank.slice();
    const { columns, factors, offsets } = binding;
    for (let i = 0; i < columns.length; i++) {
      const column = columns[i]!;
      if (column >= 0) values[column] = raw[i]! * factors[i]! + offsets[i]!;
    }
    if (binding.derivesDiameter) {
      values[layout.diameter] = (values[layout.diameterX]! + values[layout.diameterY]!) / 2;
    }
    const lostBefore = clock.restarted ? 0 : this.#numbers.lost;
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
