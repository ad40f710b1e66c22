import { firstIndex } from '../../probability/first-index.ts';
import type { ByteReader } from './byte-reader.ts';
import { GROUP, GROUPS_MAX, HAS_GAPS, KIND, NO_CORRECTIONS } from './column-format.ts';
import { fitDecimal, POWERS, shiftByUlps } from './decimal-fit.ts';
import { readPresence } from './presence.ts';
import { readRice } from './rice.ts';
import { readStream } from './stream-reader.ts';
import { type Summary, summarise } from './summary.ts';

const ulps = new Uint32Array(GROUP);
const present = new Uint8Array(GROUP);
const packed = new Float64Array(GROUP);

/**
 * The groups that were decoded last, of any column. A window asks for the same ones several times in a row, and separate
 * buffers in each of thousands of views would take most of the reader's memory and time.
 */
const RING = 32;
const ring = Array.from({ length: RING }, () => newSlot());
type Slot = ReturnType<typeof newSlot>;
let ringNext = 0;

const scratch = newSlot();

function newSlot() {
  return {
    owner: null as ColumnView | null,
    group: -1,
    /** Number of values that are decoded, from the first one on. */
    known: 0,
    integers: new Int32Array(GROUP),
    values: new Float64Array(GROUP),
    /** `values` are filled in. */
    whole: false,
  };
}

const summed = { count: 0, min: 0, max: 0, sum: 0, squares: 0, digits: null as number | null };

const NO_GROUPS: readonly number[] = [];

/** A column of a block, decoded only as far as it is used. */
export class ColumnView {
  /** Shared by the whole block: each use sets its position first. */
  readonly #reader: ByteReader;
  readonly #kind: number;
  /** Readings in the block. */
  readonly #n: number;
  #constant = Number.NaN;
  #scale = 0;
  #base = 0;
  #step = 1;
  /** Where the stream of each group starts. A plain array, because a typed array per view would cost more than it holds. */
  #starts = NO_GROUPS;
  /** How many values each group has; null = no gaps. */
  #counts: readonly number[] | null = null;
  #slot: Slot = ring[0]!;

  constructor(reader: ByteReader, at: number, n: number) {
    this.#reader = reader;
    this.#n = n;
    reader.at = at;
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

  /** Digits after the point, if all values are exact decimals; null = they are not. */
  get digits(): number | null {
    if (this.#kind === KIND.integers) return this.#scale;
    if (this.#kind !== KIND.constant) return null;
    const fit = fitDecimal(Float64Array.of(this.#constant), 1);
    return fit.kind === 'decimal' ? fit.scale : null;
  }

  /** All values of a group, NaN = gap. Use them at once: the buffer is reused. */
  group(group: number): Float64Array {
    const slot = this.#look(group, this.#sizeOf(group));
    if (!slot.whole) {
      this.#toValues(slot.integers, slot.known, slot.values, 0);
      slot.whole = true;
    }
    return slot.values;
  }

  /** One value of a group; NaN = gap. @param ahead how many further values to decode, because they will soon be needed */
  value(group: number, index: number, ahead = 0): number {
    return this.#valueIn(this.#look(group, index + 1, ahead), index);
  }

  /**
   * In a group of rising values: index of the first one at or beyond the edge (`after`: beyond it); the group's size if
   * there is none. Decodes the first `upTo` values, or all if those are not enough.
   */
  firstAt(group: number, edge: number, after: boolean, upTo: number): number {
    const size = this.#sizeOf(group);
    let slot = this.#look(group, Math.min(Math.max(upTo, 1), size));
    const last = this.#valueIn(slot, slot.known - 1);
    if (slot.known < size && (after ? last <= edge : last < edge)) slot = this.#look(group, size);
    return firstIndex(0, slot.known, (i) => {
      const value = this.#valueIn(slot, i);
      return after ? value > edge : value >= edge;
    });
  }

  /**
   * Sums up the values [from, to) of a group; squares only if the spread is requested. The returned object is reused by the
   * next call.
   */
  summary(group: number, from: number, to: number, spread: boolean): Omit<Summary, 'first' | 'last'> {
    // Decode the whole group: what follows belongs to the next column of a window.
    const slot = this.#look(group, this.#sizeOf(group));
    if (slot.whole) return summarise(slot.values, from, to, this.digits);
    // Integers are added exactly, and converted to a value once.
    const xs = slot.integers;
    let min = xs[from]!;
    let max = min;
    let sum = 0;
    // Four at a time in integer arithmetic (each is below 2^28), which is faster than adding doubles.
    let i = from;
    for (; i + 3 < to; i += 4) {
      const a = xs[i]!;
      const b = xs[i + 1]!;
      const c = xs[i + 2]!;
      const d = xs[i + 3]!;
      min = Math.min(min, a, b, c, d);
      max = Math.max(max, a, b, c, d);
      sum += (a + b + c + d) | 0;
    }
    for (; i < to; i++) {
      const x = xs[i]!;
      min = Math.min(min, x);
      max = Math.max(max, x);
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
      const slot = this.#decode(g, this.#sizeOf(g), scratch);
      if (slot.whole) out.set(slot.values.subarray(0, this.#sizeOf(g)), at + g * GROUP);
      else this.#toValues(slot.integers, this.#sizeOf(g), out, at + g * GROUP);
    }
  }

  #valueIn(slot: Slot, index: number): number {
    if (slot.whole) return slot.values[index]!;
    return (this.#base + this.#step * slot.integers[index]!) / POWERS[this.#scale]!;
  }

  /** The group with its first `wanted` values at least. */
  #look(group: number, wanted: number, ahead = 0): Slot {
    const known = this.#slot.owner === this && this.#slot.group === group ? this.#slot.known : 0;
    if (known >= wanted) return this.#slot;
    if (known === 0) {
      this.#slot = ring[ringNext]!;
      ringNext = (ringNext + 1) % RING;
    }
    const slot = this.#slot;
    slot.owner = null;
    // Repeated requests usually continue through the group: decode twice as much each time.
    this.#decode(group, Math.max(wanted + ahead, known * 2), slot);
    slot.owner = this;
    slot.group = group;
    return slot;
  }

  #readStarts(reader: ByteReader, gaps: boolean): void {
    const groups = Math.ceil(this.#n / GROUP);
    const starts: number[] = [];
    const counts: number[] = [];
    let stream = 0;
    for (let g = 0; g < groups; g++) {
      starts.push(stream);
      const count = gaps ? reader.varint() : 1;
      if (gaps) counts.push(count);
      if (count > 0) stream += reader.varint();
    }
    for (let g = 0; g < groups; g++) starts[g]! += reader.at;
    this.#starts = starts;
    this.#counts = gaps ? counts : null;
  }

  #sizeOf(group: number): number {
    return Math.min(GROUP, this.#n - group * GROUP);
  }

  /** Decodes a group: integers without gaps only as far as wanted, and they stay integers; anything else completely, into values. */
  #decode(group: number, wanted: number, slot: Slot): Slot {
    const size = this.#sizeOf(group);
    const out = slot.values;
    slot.known = size;
    slot.whole = true;
    if (this.#starts === NO_GROUPS) {
      out.fill(this.#constant, 0, size);
      return slot;
    }
    const count = this.#counts === null ? size : this.#counts[group]!;
    if (count === 0) {
      out.fill(Number.NaN, 0, size);
      return slot;
    }
    const reader = this.#reader;
    reader.at = this.#starts[group]!;
    if (count === size && this.#kind === KIND.integers) {
      slot.known = Math.min(wanted, size);
      readStream(reader, slot.integers, slot.known);
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

/** Applies the stored corrections to values that are not exactly their decimals. */
function correct(reader: ByteReader, values: Float64Array, count: number): void {
  const k = reader.u8();
  if (k === NO_CORRECTIONS) return;
  readRice(reader, ulps, count, k);
  for (let i = 0; i < count; i++) {
    const mapped = ulps[i]!;
    if (mapped !== 0) values[i] = shiftByUlps(values[i]!, (mapped >>> 1) ^ -(mapped & 1));
  }
}
