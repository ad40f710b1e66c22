import { ByteReader } from './byte-reader.ts';
import { GROUPS_MAX, HAS_GAPS, KIND, NO_CORRECTIONS } from './column-format.ts';
import { POWERS, shiftByUlps } from './decimal-fit.ts';
import { GROUP, readStream } from './group-stream.ts';
import { readPresence } from './presence.ts';
import { readRice } from './rice.ts';

/** Fields of a group's table entry. */
const COUNT = 0;
const FINITE = 1;
const MIN = 2;
const MAX = 3;
const SUM = 4;
const X_MIN = 5;
const RANGE = 6;
const STREAM = 7;
const STRIDE = 8;

const xs = new Int32Array(GROUP);
const ulps = new Uint32Array(GROUP);
const present = new Uint8Array(GROUP);
const packed = new Float64Array(GROUP);

/**
 * The groups and tables that were decoded last, of whatever column: a window asks for the same ones several times in a
 * row, and buffers of its own in each of thousands of views would be most of the reader's memory and of its time.
 */
const RING = 32;
const ring = Array.from({ length: RING }, () => new Float64Array(GROUP));
const ringOwners = new Array<ColumnView | null>(RING).fill(null);
let ringNext = 0;

const TABLES = 128;
const TABLE_SIZE = GROUPS_MAX * STRIDE;
const tables = new Float64Array(TABLES * TABLE_SIZE);
const tableOwners = new Array<ColumnView | null>(TABLES).fill(null);
let tableNext = 0;

/** A column of a block, decoded only where it is looked at. */
export class ColumnView {
  readonly #bytes: Uint8Array;
  readonly #kind: number;
  /** Readings in the block. */
  readonly #n: number;
  #constant = Number.NaN;
  #power = 1;
  #base = 0;
  #step = 1;
  readonly #tableAt: number = 0;
  readonly #gaps: boolean = false;
  #tableSlot = 0;
  #decoded = -1;
  #slot = 0;

  constructor(bytes: Uint8Array, at: number, n: number) {
    this.#bytes = bytes;
    this.#n = n;
    const reader = new ByteReader(bytes, at);
    const head = reader.u8();
    this.#kind = head & 7;
    if (this.#kind === KIND.constant) {
      this.#constant = reader.f64();
    } else if (this.#kind !== KIND.allGaps) {
      if (this.#kind > KIND.raw || n > GROUPS_MAX * GROUP) throw new RangeError('the column is unknown');
      if (this.#kind !== KIND.raw) this.#readScale(reader);
      this.#gaps = (head & HAS_GAPS) !== 0;
      this.#tableAt = reader.at;
    }
  }

  /** Values of a group (number, not NaN nor infinite). */
  finiteOf(group: number): number {
    if (this.#tableAt > 0) return tables[this.#entry(group) + FINITE]!;
    return Number.isFinite(this.#constant) ? this.#sizeOf(group) : 0;
  }

  minOf(group: number): number {
    return this.#tableAt > 0 ? tables[this.#entry(group) + MIN]! : this.#constant;
  }

  maxOf(group: number): number {
    return this.#tableAt > 0 ? tables[this.#entry(group) + MAX]! : this.#constant;
  }

  sumOf(group: number): number {
    return this.#tableAt > 0 ? tables[this.#entry(group) + SUM]! : this.#constant * this.#sizeOf(group);
  }

  /** All values of a group, NaN = gap; to be used at once: the buffer is soon used again. */
  group(group: number): Float64Array {
    if (this.#decoded !== group || ringOwners[this.#slot] !== this) {
      this.#slot = ringNext;
      ringNext = (ringNext + 1) % RING;
      ringOwners[this.#slot] = this;
      this.#decode(group, ring[this.#slot]!, 0);
      this.#decoded = group;
    }
    return ring[this.#slot]!;
  }

  /** All values of the block into out[at…). */
  all(out: Float64Array, at: number): void {
    for (let g = 0; g * GROUP < this.#n; g++) this.#decode(g, out, at + g * GROUP);
  }

  #sizeOf(group: number): number {
    return Math.min(GROUP, this.#n - group * GROUP);
  }

  #readScale(reader: ByteReader): void {
    const scale = reader.u8();
    const power = POWERS[scale];
    if (power === undefined) throw new RangeError(`scale ${scale} is unknown`);
    this.#power = power;
    this.#base = reader.signed();
    this.#step = reader.varint();
  }

  /** Where a group's entry lies in `tables`. */
  #entry(group: number): number {
    if (tableOwners[this.#tableSlot] !== this) {
      this.#tableSlot = tableNext;
      tableNext = (tableNext + 1) % TABLES;
      tableOwners[this.#tableSlot] = null;
      this.#readTable(this.#tableSlot * TABLE_SIZE);
      tableOwners[this.#tableSlot] = this;
    }
    return this.#tableSlot * TABLE_SIZE + group * STRIDE;
  }

  /** The hot loop of every window: varints are read in place, most of them are one byte. */
  #readTable(start: number): void {
    const bytes = this.#bytes;
    const raw = this.#kind === KIND.raw;
    const near = this.#kind === KIND.near;
    const whole = raw || near;
    const gaps = this.#gaps;
    const n = this.#n;
    const base = this.#base;
    const step = this.#step;
    const power = this.#power;
    const reader = new ByteReader(bytes, this.#tableAt);
    let stream = 0;
    let lastMin = 0;
    let t = start;
    for (let from = 0; from < n; from += GROUP, t += STRIDE) {
      const size = Math.min(n - from, GROUP);
      const count = gaps ? reader.varint() : size;
      tables[t + COUNT] = count;
      tables[t + STREAM] = stream;
      if (count === 0) {
        tables.fill(0, t + FINITE, t + STREAM);
        continue;
      }
      tables[t + FINITE] = raw ? reader.varint() : count;
      let range = 0;
      if (!raw) {
        lastMin += reader.signed();
        range = reader.varint();
        tables[t + X_MIN] = lastMin;
        tables[t + RANGE] = range;
        if (!near) {
          const least = base + step * lastMin;
          const above = range > 0 ? reader.varint() : 0;
          tables[t + MIN] = least / power;
          tables[t + MAX] = (least + step * range) / power;
          tables[t + SUM] = (least * count + step * above) / power;
        }
      }
      if (whole) {
        tables[t + MIN] = reader.f64();
        tables[t + MAX] = reader.f64();
        tables[t + SUM] = reader.f64();
      }
      if (whole || count < size || range > 0) stream += reader.varint();
    }
    for (t -= STRIDE; t >= start; t -= STRIDE) tables[t + STREAM]! += reader.at;
  }

  #decode(group: number, out: Float64Array, at: number): void {
    const size = this.#sizeOf(group);
    if (this.#tableAt === 0) {
      out.fill(this.#constant, at, at + size);
      return;
    }
    const t = this.#entry(group);
    const count = tables[t + COUNT]!;
    if (count === 0) {
      out.fill(Number.NaN, at, at + size);
      return;
    }
    const reader = new ByteReader(this.#bytes, tables[t + STREAM]!);
    if (count === size) {
      this.#values(reader, t, count, out, at);
      return;
    }
    readPresence(reader, present, size);
    this.#values(reader, t, count, packed, 0);
    let next = 0;
    for (let i = 0; i < size; i++) out[at + i] = present[i] === 1 ? packed[next++]! : Number.NaN;
  }

  #values(reader: ByteReader, t: number, count: number, out: Float64Array, at: number): void {
    if (this.#kind === KIND.raw) {
      for (let i = 0; i < count; i++) out[at + i] = reader.f64();
      return;
    }
    const min = tables[t + X_MIN]!;
    const base = this.#base;
    const step = this.#step;
    const power = this.#power;
    if (tables[t + RANGE]! > 0) {
      readStream(reader, xs, count, min);
      for (let i = 0; i < count; i++) out[at + i] = (base + step * xs[i]!) / power;
    } else {
      out.fill((base + step * min) / power, at, at + count);
    }
    if (this.#kind !== KIND.near) return;
    const k = reader.u8();
    if (k === NO_CORRECTIONS) return;
    readRice(reader, ulps, count, k);
    for (let i = 0; i < count; i++) {
      const mapped = ulps[i]!;
      if (mapped !== 0) out[at + i] = shiftByUlps(out[at + i]!, (mapped >>> 1) ^ -(mapped & 1));
    }
  }
}
