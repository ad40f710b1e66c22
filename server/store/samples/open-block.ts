import type { Layout, Reading } from '../../reading/reading.ts';
import { BLOCK, type BlockColumns, type Break, encodeBlock } from './block-format.ts';
import { GROUP } from './column-format.ts';
import { SIGNALS_MAX } from './sample-ids.ts';

/** Readings of an open block that are encoded at a time: whole groups, and few enough to cause no delay. */
const PIECE = 4 * GROUP;

export interface SignalName {
  readonly name: string;
  readonly unit: string;
}

/** An encoded block with its range on both axes. */
export interface EncodedBlock {
  /** Number of its first reading in the run, from 0. */
  readonly firstNumber: number;
  readonly count: number;
  readonly fromMs: number;
  readonly toMs: number;
  readonly fromGaugeMm: number;
  readonly toGaugeMm: number;
  readonly data: Uint8Array;
}

/**
 * The readings of a run that are in no sealed block yet, in columns. A reading allocates nothing: the columns are filled,
 * encoded and reused.
 */
export class OpenBlock implements BlockColumns {
  readonly timeMs = new Float64Array(BLOCK);
  readonly gaugeMm = new Float64Array(BLOCK);
  readonly signals: Float64Array[] = [];
  readonly breaks: Break[] = [];
  /** The signals of the run by number. A name keeps its number in every layout. */
  readonly names: SignalName[];
  count = 0;
  /** Number of the first reading in the run. */
  firstNumber: number;
  readonly #columns = new Map<string, Float64Array>();
  #layout: Layout | null = null;
  /** The target of each column of the layout. */
  #targets: Float64Array[] = [];
  /** Target for the values of surplus signals; never read. */
  readonly #spill = new Float64Array(BLOCK);
  readonly #leftOut: (names: readonly string[]) => void;
  readonly #reportedLeftOut = new Set<string>();
  #lastTenths: number;
  #lastHundredths: number;
  /** Readings that are already encoded for `snapshot`. */
  #pieces: EncodedBlock[] = [];

  /** @param leftOut called once for each signal beyond the number that a run can hold; its values are not stored */
  constructor(
    names: readonly SignalName[],
    firstNumber: number,
    lastTimeMs: number,
    lastGaugeMm: number,
    leftOut: (names: readonly string[]) => void,
  ) {
    this.#leftOut = leftOut;
    this.names = [];
    this.firstNumber = firstNumber;
    this.#lastTenths = Math.round(lastTimeMs * 10);
    this.#lastHundredths = Math.round(lastGaugeMm * 100);
    for (const { name, unit } of names) this.#addSignal(name, unit);
  }

  get full(): boolean {
    return this.count === BLOCK;
  }

  append(reading: Reading, gaugeMm: number): void {
    if (!Number.isFinite(reading.timeMs) || !Number.isFinite(gaugeMm)) {
      throw new TypeError(`A reading needs a time and a gauge length: got ${reading.timeMs} ms, ${gaugeMm} mm.`);
    }
    if (this.#layout !== reading.layout) this.#useLayout(reading.layout);
    const i = this.count;
    // Times are stored to 0.1 ms and strictly increase; lengths are stored to 0.01 mm and never fall.
    const tenths = Math.round(reading.timeMs * 10);
    this.#lastTenths = tenths > this.#lastTenths ? tenths : this.#lastTenths + 1;
    this.timeMs[i] = this.#lastTenths / 10;
    const hundredths = Math.round(gaugeMm * 100);
    if (hundredths > this.#lastHundredths) this.#lastHundredths = hundredths;
    this.gaugeMm[i] = this.#lastHundredths / 100;
    const { values } = reading;
    const targets = this.#targets;
    const n = Math.min(values.length, targets.length);
    for (let c = 0; c < n; c++) targets[c]![i] = values[c]!;
    if (reading.lostBefore > 0 || reading.restarted) {
      this.breaks.push({ index: i, lostBefore: reading.lostBefore, restarted: reading.restarted });
    }
    this.count = i + 1;
  }

  /** Encodes readings [from, to). */
  encode(from = 0, to = this.count): EncodedBlock {
    const last = to - 1;
    return {
      firstNumber: this.firstNumber + from,
      count: to - from,
      fromMs: this.timeMs[from]!,
      toMs: this.timeMs[last]!,
      fromGaugeMm: this.gaugeMm[from]!,
      toGaugeMm: this.gaugeMm[last]!,
      data: encodeBlock(this, from, to),
    };
  }

  /** All readings in encoded pieces. Each is encoded once and shared by all queries; only the last one grows. */
  snapshot(): EncodedBlock[] {
    const pieces = this.#pieces;
    const last = pieces.at(-1);
    if (last && last.firstNumber + last.count === this.firstNumber + this.count) return [...pieces];
    if (last && last.count < PIECE) pieces.pop();
    for (let from = pieces.length * PIECE; from < this.count; from += PIECE) {
      pieces.push(this.encode(from, Math.min(from + PIECE, this.count)));
    }
    return [...pieces];
  }

  /** Empties the block; the next reading continues the numbering. */
  clear(): void {
    this.firstNumber += this.count;
    this.count = 0;
    this.breaks.length = 0;
    this.#pieces = [];
    for (const signal of this.signals) signal.fill(Number.NaN);
  }

  #useLayout(layout: Layout): void {
    const leftOut: string[] = [];
    this.#targets = layout.signals.map(({ name, unit }) => {
      const known = this.#columns.get(name);
      if (known !== undefined) return known;
      if (this.signals.length < SIGNALS_MAX) return this.#addSignal(name, unit);
      if (!this.#reportedLeftOut.has(name)) leftOut.push(name);
      this.#reportedLeftOut.add(name);
      return this.#spill;
    });
    this.#layout = layout;
    if (leftOut.length > 0) this.#leftOut(leftOut);
  }

  #addSignal(name: string, unit: string): Float64Array {
    const column = new Float64Array(BLOCK).fill(Number.NaN);
    this.signals.push(column);
    this.names.push({ name, unit });
    this.#columns.set(name, column);
    return column;
  }
}
