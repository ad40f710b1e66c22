import { ByteReader } from './byte-reader.ts';
import { GROUP, GROUPS_MAX, HAS_GAPS, KIND, NO_CORRECTIONS } from './column-format.ts';
import { fitDecimal, POWERS, shiftByUlps } from './decimal-fit.ts';
import { readStream } from './group-stream.ts';
import { readPresence } from './presence.ts';
import { readRice } from './rice.ts';

const xs = new Int32Array(GROUP);
const ulps = new Uint32Array(GROUP);
const present = new Uint8Array(GROUP);
const packed = new Float64Array(GROUP);

/**
 * The groups that were decoded last, of whatever column: a window asks for the same ones several times in a row, and
 * buffers of its own in each of thousands of views would be most of the reader's memory and of its time.
 */
const RING = 32;
const ring = Array.from({ length: RING }, () => new Float64Array(GROUP));
const ringOwners = new Array<ColumnView | null>(RING).fill(null);
let ringNext = 0;

const NO_GROUPS = new Uint32Array(0);

/** A column of a block, decoded only where it is looked at. */
export class ColumnView {
  readonly #bytes: Uint8Array;
  readonly #kind: number;
  /** Readings in the block. */
  readonly #n: number;
  #constant = Number.NaN;
  #scale = 0;
  #base = 0;
  #step = 1;
  /** Where the stream of each group begins, and how many values it has. */
  #starts = NO_GROUPS;
  #counts = NO_GROUPS;
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
      if (this.#kind !== KIND.raw) {
        this.#scale = reader.u8();
        if (POWERS[this.#scale] === undefined) throw new RangeError(`scale ${this.#scale} is unknown`);
        this.#base = reader.signed();
        this.#step = reader.varint();
      }
      this.#readStarts(reader, (head & HAS_GAPS) !== 0);
    }
  }

  /** Digits after the point that all values are exact decimals of; null = they are no such decimals. */
  get digits(): number | null {
    if (this.#kind === KIND.integers) return this.#scale;
    if (this.#kind !== KIND.constant) return null;
    const fit = fitDecimal(Float64Array.of(this.#constant), 1);
    return fit.kind === 'decimal' ? fit.scale : null;
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

  #readStarts(reader: ByteReader, gaps: boolean): void {
    const groups = Math.ceil(this.#n / GROUP);
    const starts = new Uint32Array(groups);
    const counts = new Uint32Array(groups);
    let stream = 0;
    for (let g = 0; g < groups; g++) {
      starts[g] = stream;
      const count = gaps ? reader.varint() : this.#sizeOf(g);
      counts[g] = count;
      if (count > 0) stream += reader.varint();
    }
    for (let g = 0; g < groups; g++) starts[g]! += reader.at;
    this.#starts = starts;
    this.#counts = counts;
  }

  #sizeOf(group: number): number {
    return Math.min(GROUP, this.#n - group * GROUP);
  }

  #decode(group: number, out: Float64Array, at: number): void {
    const size = this.#sizeOf(group);
    if (this.#starts === NO_GROUPS) {
      out.fill(this.#constant, at, at + size);
      return;
    }
    const count = this.#counts[group]!;
    if (count === 0) {
      out.fill(Number.NaN, at, at + size);
      return;
    }
    const reader = new ByteReader(this.#bytes, this.#starts[group]!);
    if (count === size) {
      this.#values(reader, count, out, at);
      return;
    }
    readPresence(reader, present, size);
    this.#values(reader, count, packed, 0);
    let next = 0;
    for (let i = 0; i < size; i++) out[at + i] = present[i] === 1 ? packed[next++]! : Number.NaN;
  }

  #values(reader: ByteReader, count: number, out: Float64Array, at: number): void {
    if (this.#kind === KIND.raw) {
      for (let i = 0; i < count; i++) out[at + i] = reader.f64();
      return;
    }
    const base = this.#base;
    const step = this.#step;
    const power = POWERS[this.#scale]!;
    readStream(reader, xs, count);
    for (let i = 0; i < count; i++) out[at + i] = (base + step * xs[i]!) / power;
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
