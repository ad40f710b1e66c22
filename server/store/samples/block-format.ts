import { crc32 } from 'node:zlib';
import { ByteReader } from './byte-reader.ts';
import { ByteWriter } from './byte-writer.ts';
import { ColumnEncoder } from './column-encoder.ts';
import { GROUP, GROUPS_MAX } from './column-format.ts';
import { ColumnView } from './column-view.ts';
import { SIGNALS_MAX } from './sample-ids.ts';

/** Readings in a full block: 8192, or 164 s at 50 readings/s, about 12 kB. Smaller blocks would waste part of each database page. */
export const BLOCK = GROUP * GROUPS_MAX;

/** Columns of a block by number: the two axes, then the signals of the run from `FIRST_SIGNAL` on. */
export const TIME_COLUMN = 0;
export const GAUGE_COLUMN = 1;
export const FIRST_SIGNAL = 2;
const COLUMNS_MAX = FIRST_SIGNAL + SIGNALS_MAX;

const FORMAT = 3;
/** The bit reader may look this far beyond the last code. */
const PADDING = 8;

/** An interruption before a reading: lost lines or a restart of the device. */
export interface Break {
  /** Index within the block. */
  readonly index: number;
  readonly lostBefore: number;
  readonly restarted: boolean;
}

/** Readings in columns, as the encoder needs them. */
export interface BlockColumns {
  readonly count: number;
  /** UTC ms at a tenth. */
  readonly timeMs: Float64Array;
  /** Millimetres at a hundredth. */
  readonly gaugeMm: Float64Array;
  /** By signal number; NaN = gap. */
  readonly signals: readonly Float64Array[];
  readonly breaks: readonly Break[];
}

/** A block cannot be read: bytes on the disk have changed. */
export class DamagedBlock extends Error {
  override readonly name = 'DamagedBlock';
}

const writer = new ByteWriter();
const body = new ByteWriter();
const encoder = new ColumnEncoder(new ByteWriter());

/** Encodes readings [from, to) of the columns. Layout: crc32 · format · count · columns (number, length) · breaks · columns. */
export function encodeBlock(columns: BlockColumns, from = 0, to = columns.count): Uint8Array {
  const count = to - from;
  writer.reset();
  body.reset();
  writer.u32(0);
  writer.u8(FORMAT);
  writer.varint(count);
  writer.varint(columns.signals.length + FIRST_SIGNAL);
  let start = 0;
  const column = (number: number, values: Float64Array): void => {
    encoder.encode(body, from === 0 ? values : values.subarray(from, to), count);
    writer.varint(number);
    writer.varint(body.at - start);
    start = body.at;
  };
  column(TIME_COLUMN, columns.timeMs);
  column(GAUGE_COLUMN, columns.gaugeMm);
  for (const [c, values] of columns.signals.entries()) column(FIRST_SIGNAL + c, values);

  const breaks = columns.breaks.filter((b) => b.index >= from && b.index < to);
  writer.varint(breaks.length);
  let last = from;
  for (const b of breaks) {
    writer.varint(b.index - last);
    writer.varint(b.lostBefore * 2 + (b.restarted ? 1 : 0));
    last = b.index;
  }
  writer.raw(body.bytes.subarray(0, body.at));
  for (let i = 0; i < PADDING; i++) writer.u8(0);
  const bytes = writer.take();
  new DataView(bytes.buffer).setUint32(0, crc32(bytes.subarray(4)), true);
  return bytes;
}

/** A block, decoded only where it is looked at. */
export class BlockView {
  readonly count: number;
  readonly #reader: ByteReader;
  /** By column number. Plain arrays, because a window opens thousands of blocks once each. */
  readonly #starts: (number | undefined)[] = [];
  readonly #views: (ColumnView | undefined)[] = [];
  readonly breaks: readonly Break[];
  readonly #bodyAt: number;

  /** @throws DamagedBlock */
  constructor(bytes: Uint8Array) {
    if (bytes.length < 16 + PADDING) throw new DamagedBlock('the block is too short');
    const reader = new ByteReader(bytes);
    if (crc32(bytes.subarray(4)) !== reader.u32()) throw new DamagedBlock('the checksum does not match');
    const format = reader.u8();
    if (format !== FORMAT) throw new DamagedBlock(`block format ${format} is unknown`);
    this.#reader = reader;
    this.count = reader.varint();
    if (this.count > BLOCK) throw new DamagedBlock('the block has too many readings');
    const columns = reader.varint();
    if (columns > COLUMNS_MAX) throw new DamagedBlock('the block has too many columns');
    let at = 0;
    for (let c = 0; c < columns; c++) {
      const number = reader.varint();
      if (number >= COLUMNS_MAX) throw new DamagedBlock(`the block has a column ${number}`);
      this.#starts[number] = at;
      at += reader.varint();
    }
    const breaks: Break[] = [];
    let index = 0;
    let left = reader.varint();
    if (left > this.count) throw new DamagedBlock('the block has too many interruptions');
    for (; left > 0; left--) {
      index += reader.varint();
      const packed = reader.varint();
      breaks.push({ index, lostBefore: Math.floor(packed / 2), restarted: packed % 2 === 1 });
    }
    this.breaks = breaks;
    this.#bodyAt = reader.at;
  }

  /** undefined = the block has no such column: all gaps. */
  column(number: number): ColumnView | undefined {
    const cached = this.#views[number];
    if (cached) return cached;
    const start = this.#starts[number];
    if (start === undefined) return undefined;
    const view = new ColumnView(this.#reader, this.#bodyAt + start, this.count);
    this.#views[number] = view;
    return view;
  }

  /** Decodes all of it: a checksum shows only that the block is what its writer made. @throws DamagedBlock, RangeError */
  requireWhole(): void {
    if (this.column(TIME_COLUMN) === undefined || this.column(GAUGE_COLUMN) === undefined)
      throw new DamagedBlock('the block has no axis');
    const values = new Float64Array(this.count);
    for (const number of this.columnNumbers) this.column(number)?.all(values, 0);
  }

  get columnNumbers(): number[] {
    return this.#starts.flatMap((start, number) => (start === undefined ? [] : [number]));
  }
}
