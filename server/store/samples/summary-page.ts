import { crc32 } from 'node:zlib';
import { DamagedBlock } from './block-format.ts';
import { ByteReader } from './byte-reader.ts';
import { ByteWriter } from './byte-writer.ts';
import { ColumnEncoder } from './column-encoder.ts';
import { ColumnView } from './column-view.ts';
import { FAN_OUT } from './sample-ids.ts';
import type { Summary, SummarySet } from './summary.ts';

const FORMAT = 2;
/** In the order of the page: what a chart asks for comes first. */
const FIELDS = ['count', 'min', 'max', 'sum', 'squares', 'first', 'last'] as const;

const writer = new ByteWriter();
const body = new ByteWriter();
const encoder = new ColumnEncoder(new ByteWriter());
const column = new Float64Array(FAN_OUT);

/** Encode 32 neighbouring summaries, channel by channel. Layout: crc32 · format · channels (number, length) · columns. */
export function encodePage(sets: readonly SummarySet[]): Uint8Array {
  const channels = [...new Set(sets.flatMap((set) => [...set.keys()]))].sort((a, b) => a - b);
  writer.reset();
  body.reset();
  writer.u32(0);
  writer.u8(FORMAT);
  writer.varint(channels.length);
  let start = 0;
  for (const channel of channels) {
    for (const field of FIELDS) {
      for (let i = 0; i < FAN_OUT; i++) {
        column[i] = sets[i]?.get(channel)?.[field] ?? (field === 'count' ? 0 : Number.NaN);
      }
      const lengthAt = body.at;
      body.u8(0);
      body.u8(0);
      encoder.encode(body, column, FAN_OUT);
      const length = body.at - lengthAt - 2;
      body.bytes[lengthAt] = length & 255;
      body.bytes[lengthAt + 1] = length >> 8;
    }
    writer.varint(channel);
    writer.varint(body.at - start);
    start = body.at;
  }
  writer.raw(body.bytes.subarray(0, body.at));
  for (let i = 0; i < 8; i++) writer.u8(0);
  const bytes = writer.take();
  new DataView(bytes.buffer).setUint32(0, crc32(bytes.subarray(4)), true);
  return bytes;
}

/** Columns of 32 of one channel; NaN where a neighbour has no value. */
export interface PageColumns {
  readonly count: Float64Array;
  readonly min: Float64Array;
  readonly max: Float64Array;
  readonly sum: Float64Array;
  /** Squared deviations from the neighbour's own mean, summed up. */
  readonly squares: Float64Array;
}

/** A page, decoded only where it is looked at. */
export class PageView {
  readonly #bytes: Uint8Array;
  readonly #starts = new Map<number, number>();
  readonly #channels = new Map<number, PageColumns>();

  /** @throws DamagedBlock */
  constructor(bytes: Uint8Array) {
    if (bytes.length < 14) throw new DamagedBlock('the summary is too short');
    const stored = new DataView(bytes.buffer, bytes.byteOffset).getUint32(0, true);
    if (crc32(bytes.subarray(4)) !== stored) throw new DamagedBlock("the summary's checksum does not match");
    const reader = new ByteReader(bytes, 4);
    const format = reader.u8();
    if (format !== FORMAT) throw new DamagedBlock(`summary format ${format} is unknown`);
    this.#bytes = bytes;
    let at = 0;
    for (let n = reader.varint(); n > 0; n--) {
      this.#starts.set(reader.varint(), at);
      at += reader.varint();
    }
    for (const [channel, start] of this.#starts) this.#starts.set(channel, start + reader.at);
  }

  /** Undefined where no neighbour has a value of the channel. */
  channel(number: number): PageColumns | undefined {
    let columns = this.#channels.get(number);
    if (columns) return columns;
    const start = this.#starts.get(number);
    if (start === undefined) return undefined;
    const [count, min, max, sum, squares] = this.#fields(start, 5);
    columns = { count: count!, min: min!, max: max!, sum: sum!, squares: squares! };
    this.#channels.set(number, columns);
    return columns;
  }

  /** All 32 neighbours with all that is known of them. */
  sets(): SummarySet[] {
    const sets = Array.from({ length: FAN_OUT }, () => new Map<number, Summary>());
    for (const [channel, start] of this.#starts) {
      const [count, min, max, sum, squares, first, last] = this.#fields(start, FIELDS.length);
      for (let i = 0; i < FAN_OUT; i++) {
        if (count![i] === 0) continue;
        sets[i]!.set(channel, {
          count: count![i]!,
          first: first![i]!,
          last: last![i]!,
          min: min![i]!,
          max: max![i]!,
          sum: sum![i]!,
          squares: squares![i]!,
        });
      }
    }
    return sets;
  }

  #fields(start: number, n: number): Float64Array[] {
    const fields: Float64Array[] = [];
    let at = start;
    for (let f = 0; f < n; f++) {
      const values = new Float64Array(FAN_OUT);
      new ColumnView(this.#bytes, at + 2, FAN_OUT).all(values, 0);
      fields.push(values);
      at += 2 + this.#bytes[at]! + this.#bytes[at + 1]! * 256;
    }
    return fields;
  }
}
