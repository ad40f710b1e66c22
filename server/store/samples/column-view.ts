import { ByteReader } from './byte-reader.ts';
import { HAS_GAPS, KIND, NO_CORRECTIONS } from './column-format.ts';
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
 * The groups that were decoded last, of whatever column: a window asks for the same group several times in a row, and a
 * buffer of its own in each of thousands of views would be most of the reader's memory.
 */
const RING = 32;
const ring = Array.from({ length: RING }, () => new Float64Array(GROUP));
const ringOwners = new Array<ColumnView | null>(RING).fill(null);
let ringNext = 0;

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
  #table: Float64Array | null = null;
  #decoded = -1;
  #slot = 0;

  constructor(bytes: Uint8Array, at: number, n: number) {
    this.#bytes = bytes;
    this.#n = n;
    const reader = new ByteReader(bytes, at);
    const head = reader.u8();
    this.#kind = head & 7;
    if (this.#kind === KIND.constant) this.#constant = reader.f64();
    else if (this.#kind !== KIND.allGaps) this.#readTable(reader, (head & HAS_GAPS) !== 0);
  }

  /** Values of a group (number, not NaN nor infinite). */
  finiteOf(group: number): number {
    if (this.#table) return this.#table[group * STRIDE + FINITE]!;
    return Number.isFinite(this.#constant) ? this.#sizeOf(group) : 0;
  }

  minOf(group: number): number {
    return this.#table ? this.#table[group * STRIDE + MIN]! : this.#constant;
  }

  maxOf(group: number): number {
    return this.#table ? this.#table[group * STRIDE + MAX]! : this.#constant;
  }

  sumOf(group: number): number {
    return this.#table ? this.#table[group * STRIDE + SUM]! : this.#constant * this.#sizeOf(group);
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

  #readTable(reader: ByteReader, gaps: boolean): void {
    const raw = this.#kind === KIND.raw;
    const near = this.#kind === KIND.near;
    if (!raw) {
      const scale = reader.u8();
      const power = POWERS[scale];
      if (power === undefined) throw new RangeError(`scale ${scale} is unknown`);
      this.#power = power;
      this.#base = reader.signed();
      this.#step = reader.varint();
    }
    const groups = Math.ceil(this.#n / GROUP);
    const table = new Float64Array(groups * STRIDE);
    let stream = 0;
    let lastMin = 0;
    for (let g = 0; g < groups; g++) {
      const size = this.#sizeOf(g);
      const count = gaps ? reader.varint() : size;
      const t = g * STRIDE;
      table[t + COUNT] = count;
      table[t + STREAM] = stream;
      if (count === 0) continue;
      table[t + FINITE] = raw ? reader.varint() : count;
      if (!raw) {
        lastMin += reader.signed();
        const range = reader.varint();
        table[t + X_MIN] = lastMin;
        table[t + RANGE] = range;
        if (!near) {
          const least = this.#base + this.#step * lastMin;
          const above = range > 0 ? reader.varint() : 0;
          table[t + MIN] = least / this.#power;
          table[t + MAX] = (least + this.#step * range) / this.#power;
          table[t + SUM] = (least * count + this.#step * above) / this.#power;
        }
      }
      if (raw || near) {
        table[t + MIN] = reader.f64();
        table[t + MAX] = reader.f64();
        table[t + SUM] = reader.f64();
      }
      if (raw || near || count < size || table[t + RANGE]! > 0) stream += reader.varint();
    }
    for (let g = 0; g < groups; g++) table[g * STRIDE + STREAM]! += reader.at;
    this.#table = table;
  }

  #decode(group: number, out: Float64Array, at: number): void {
    const size = this.#sizeOf(group);
    const table = this.#table;
    if (table === null) {
      out.fill(this.#constant, at, at + size);
      return;
    }
    const t = group * STRIDE;
    const count = table[t + COUNT]!;
    if (count === 0) {
      out.fill(Number.NaN, at, at + size);
      return;
    }
    const reader = new ByteReader(this.#bytes, table[t + STREAM]!);
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
    const table = this.#table!;
    if (this.#kind === KIND.raw) {
      for (let i = 0; i < count; i++) out[at + i] = reader.f64();
      return;
    }
    const min = table[t + X_MIN]!;
    const base = this.#base;
    const step = this.#step;
    const power = this.#power;
    if (table[t + RANGE]! > 0) {
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
