import { crc32 } from 'node:zlib';
import { DamagedBlock } from './block-format.ts';
import { ByteReader } from './byte-reader.ts';
import { ByteWriter } from './byte-writer.ts';
import { ColumnEncoder } from './column-encoder.ts';
import { ColumnView } from './column-view.ts';
import { FIELDS, PAGE_NODES } from './summary.ts';

const FORMAT = 3;
/** The bit reader may look this far beyond the last code. */
const PADDING = 8;

const writer = new ByteWriter();
const body = new ByteWriter();
const encoder = new ColumnEncoder(new ByteWriter());

/**
 * One column of a page of summaries: for an axis where each node starts, for a signal the fields in the order of `FIELDS`
 * (the last three only on the higher levels). Layout: crc32 · format · nodes · fields · length of each · fields.
 */
export function encodePage(fields: readonly Float64Array[], nodes: number): Uint8Array {
  writer.reset();
  body.reset();
  writer.u32(0);
  writer.u8(FORMAT);
  writer.varint(nodes);
  writer.varint(fields.length);
  let start = 0;
  for (const field of fields) {
    encoder.encode(body, field, nodes);
    writer.varint(body.at - start);
    start = body.at;
  }
  writer.raw(body.bytes.subarray(0, body.at));
  for (let i = 0; i < PADDING; i++) writer.u8(0);
  const bytes = writer.take();
  new DataView(bytes.buffer).setUint32(0, crc32(bytes.subarray(4)), true);
  return bytes;
}

/** A column of a page, decoded only as far as it is used. */
export class PageView {
  readonly nodes: number;
  readonly #reader: ByteReader;
  readonly #starts: number[] = [];
  /** Field by field, decoded on first use. */
  readonly #values: Float64Array;
  readonly #decoded: boolean[] = [];

  /** @throws DamagedBlock */
  constructor(bytes: Uint8Array) {
    if (bytes.length < 7 + PADDING) throw new DamagedBlock('the summary is too short');
    const reader = new ByteReader(bytes);
    if (crc32(bytes.subarray(4)) !== reader.u32()) throw new DamagedBlock("the summary's checksum does not match");
    const format = reader.u8();
    if (format !== FORMAT) throw new DamagedBlock(`summary format ${format} is unknown`);
    this.nodes = reader.varint();
    const fields = reader.varint();
    if (this.nodes > PAGE_NODES || fields > FIELDS.length) throw new DamagedBlock('the summary is too large');
    this.#reader = reader;
    let at = 0;
    for (let f = 0; f < fields; f++) {
      this.#starts.push(at);
      at += reader.varint();
    }
    for (let f = 0; f < fields; f++) {
      this.#starts[f]! += reader.at;
      this.#decoded.push(false);
    }
    this.#values = new Float64Array(this.nodes * fields);
  }

  /** Number of fields of the page. */
  get fields(): number {
    return this.#starts.length;
  }

  /** A field of a node; for an axis, field 0 = where the node starts. NaN = no value. */
  value(f: number, node: number): number {
    if (!this.#decoded[f]) this.#decode(f);
    return this.#values[f * this.nodes + node]!;
  }

  /** A field of all nodes. */
  field(f: number): Float64Array {
    if (!this.#decoded[f]) this.#decode(f);
    return this.#values.subarray(f * this.nodes, (f + 1) * this.nodes);
  }

  /** Decodes all of it. @throws RangeError */
  requireWhole(): void {
    for (let f = 0; f < this.fields; f++) this.field(f);
  }

  #decode(f: number): void {
    new ColumnView(this.#reader, this.#starts[f]!, this.nodes).all(this.#values, f * this.nodes);
    this.#decoded[f] = true;
  }

  /** Digits after the point, if the sums are exact decimals; null = they are not. */
  get digits(): number | null {
    return new ColumnView(this.#reader, this.#starts[FIELDS.indexOf('sum')]!, this.nodes).digits;
  }
}

/** Used for a signal without any value in a page: no page is stored for it. */
export const EMPTY_PAGE = new PageView(encodePage([new Float64Array(PAGE_NODES)], PAGE_NODES));
