import { ByteReader } from './byte-reader.ts';
import { GROUP, GROUPS_MAX, HAS_GAPS, KIND, NO_CORRECTIONS } from './column-format.ts';
import { fitDecimal, POWERS, shiftByUlps } from './decimal-fit.ts';
import { readStream } from './group-stream.ts';
import { readPresence } from './presence.ts';
import { readRice } from './rice.ts';
import { type Summary, summarise } from './summary.ts';

const ulps = new Uint32Array(GROUP);
const present = new Uint8Array(GROUP);
const packed = new Float64Array(GROUP);

/**
 * The groups that were decoded last, of whatever column: a window asks for the same ones several times in a row, and
 * buffers of its own in each of thousands of views would be most of the reader's memory and of its time.
 */
const RING = 32;
const ring = Array.from({ length: RING }, () => ({
  owner: null as ColumnView | null,
  group: -1,
  integers: new Int32Array(GROUP),
  values: new Float64Array(GROUP),
  /** `values` are filled in. */
  whole: false,
}));
type Slot = (typeof ring)[number];
let ringNext = 0;

const scratch: Slot = {
  owner: null,
  group: -1,
  integers: new Int32Array(GROUP),
  values: new Float64Array(GROUP),
  whole: false,
};
const summed = { count: 0, min: 0, max: 0, sum: 0, squares: 0, digits: null as number | null };

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
  #slot: Slot = ring[0]!;

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
    const slot = this.#look(group);
    if (!slot.whole) {
      this.#toValues(slot.integers, this.#counts[group]!, slot.values, 0);
      slot.whole = true;
    }
    return slot.values;
  }

  /** One value of a group; NaN = gap. */
  value(group: number, index: number): number {
    const slot = this.#look(group);
    if (slot.whole) return slot.values[index]!;
    return (this.#base + this.#step * slot.integers[index]!) / POWERS[this.#scale]!;
  }

  /**
   * Sum up the values [from, to) of a group; their squares only where the spread is asked for, first and last not at all.
   * The answer is filled again by the next call.
   */
  summary(group: number, from: number, to: number, spread: boolean): Omit<Summary, 'first' | 'last'> {
    const slot = this.#look(group);
    if (slot.whole) return summarise(slot.values, from, to, this.digits);
    // Integers are added exactly, and turned into values once.
    const xs = slot.integers;
    let min = xs[from]!;
    let max = min;
    let sum = 0;
    for (let i = from; i < to; i++) {
      const x = xs[i]!;
      if (x < min) min = x;
      if (x > max) max = x;
      sum += x;
    }
    const count = to - from;
    const power = POWERS[this.#scale]!;
    summed.count = count;
    summed.min = (this.#base + this.#step * min) / power;
    summed.max = (this.#base + this.#step * max) / power;
    summed.sum = (this.#base * count + this.#step * sum) / power;
    summed.squares = spread ? squaresOf(xs, from, to, sum / count) * (this.#step / power) ** 2 : 0;
    summed.digits = this.#scale;
    return summed;
  }

  /** All values of the block into out[at…). */
  all(out: Float64Array, at: number): void {
    for (let g = 0; g * GROUP < this.#n; g++) {
      const slot = this.#decode(g, scratch);
      if (slot.whole) out.set(slot.values.subarray(0, this.#sizeOf(g)), at + g * GROUP);
      else this.#toValues(slot.integers, this.#sizeOf(g), out, at + g * GROUP);
    }
  }

  #look(group: number): Slot {
    if (this.#slot.owner !== this || this.#slot.group !== group) {
      this.#slot = ring[ringNext]!;
      ringNext = (ringNext + 1) % RING;
      this.#slot.owner = null;
      this.#decode(group, this.#slot);
      this.#slot.owner = this;
      this.#slot.group = group;
    }
    return this.#slot;
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

  /** Decode a group: integers without gaps as they are, all else to values. */
  #decode(group: number, slot: Slot): Slot {
    const size = this.#sizeOf(group);
    const out = slot.values;
    slot.whole = true;
    if (this.#starts === NO_GROUPS) {
      out.fill(this.#constant, 0, size);
      return slot;
    }
    const count = this.#counts[group]!;
    if (count === 0) {
      out.fill(Number.NaN, 0, size);
      return slot;
    }
    const reader = new ByteReader(this.#bytes, this.#starts[group]!);
    if (count === size && this.#kind === KIND.integers) {
      readStream(reader, slot.integers, count);
      slot.whole = false;
      return slot;
    }
    if (count < size) readPresence(reader, present, size);
    const values = count < size ? packed : out;
    if (this.#kind === KIND.raw) {
      for (let i = 0; i < count; i++) values[i] = reader.f64();
    } else {
      readStream(reader, slot.integers, count);
      this.#toValues(slot.integers, count, values, 0);
      if (this.#kind === KIND.near) correct(reader, values, count);
    }
    if (count < size) {
      let next = 0;
      for (let i = 0; i < size; i++) out[i] = present[i] === 1 ? packed[next++]! : Number.NaN;
    }
    return slot;
  }

  #toValues(xs: Int32Array, count: number, out: Float64Array, at: number): void {
    const base = this.#base;
    const step = this.#step;
    const power = POWERS[this.#scale]!;
    for (let i = 0; i < count; i++) out[at + i] = (base + step * xs[i]!) / power;
  }
}

function squaresOf(xs: Int32Array, from: number, to: number, mean: number): number {
  let squares = 0;
  for (let i = from; i < to; i++) squares += (xs[i]! - mean) ** 2;
  return squares;
}

/** Move values that lie beside their decimals to where they were. */
function correct(reader: ByteReader, values: Float64Array, count: number): void {
  const k = reader.u8();
  if (k === NO_CORRECTIONS) return;
  readRice(reader, ulps, count, k);
  for (let i = 0; i < count; i++) {
    const mapped = ulps[i]!;
    if (mapped !== 0) values[i] = shiftByUlps(values[i]!, (mapped >>> 1) ^ -(mapped & 1));
  }
}
