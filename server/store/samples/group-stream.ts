import type { ByteReader } from './byte-reader.ts';
import type { ByteWriter } from './byte-writer.ts';
import { GROUP } from './column-format.ts';
import { bestParameter, readRice, riceCost, riceParameter, writeRice } from './rice.ts';

/**
 * How the integers of a group are told; the cheapest is taken, group by group.
 * constant: one value. level: distance from the group's mean (white noise). delta: differences, as distance from their
 * mean (clocks). held: how long the value keeps to a straight line, and its jumps from there (what is sent again and
 * again, length counters). every: a sensor that is read at every p-th reading only, told as the differences of what it
 * said then.
 */
const CONSTANT = 0;
const LEVEL = 1;
const DELTA = 2;
const HELD = 3;
const EVERY = 4;
/** The lower bits of the first byte are the mode, the upper ones a Rice parameter. */
const MODE_BITS = 3;
const MODE_MASK = 7;

/** Slopes are told in this fraction of a step a reading. */
const SLOPE_UNIT = 256;

const mapped = new Uint32Array(GROUP);
const lengths = new Uint32Array(GROUP);

/** Append n integers x[from…), n ≥ 1; all of them lie within ±2^28 of each other. */
export function writeStream(to: ByteWriter, x: Int32Array, from: number, n: number): void {
  const first = x[from]!;
  let sum = 0;
  let jumps = 0;
  let changes = 0;
  let period = 0;
  let firstChange = 0;
  let previous = first;
  for (let i = 0; i < n; i++) {
    const v = x[from + i]!;
    sum += v;
    const d = v - previous;
    if (d === 0) continue;
    if (changes === 0) firstChange = i;
    else if (period !== 1) period = commonDivisor(i - firstChange, period);
    changes++;
    jumps += d < 0 ? -2 * d - 1 : 2 * d;
    previous = v;
  }
  if (changes === 0) {
    to.u8(CONSTANT);
    to.signed(first);
    return;
  }
  const center = Math.round(sum / n);
  let level = 0;
  for (let i = 0; i < n; i++) {
    const d = x[from + i]! - center;
    level += d < 0 ? -2 * d - 1 : 2 * d;
  }
  let mode = LEVEL;
  let slope = 0;
  let cost = riceCost(level, n, riceParameter(level, n)) + 8;
  const consider = (other: number, its: number, itsSlope: number): void => {
    if (its >= cost) return;
    mode = other;
    cost = its;
    slope = itsSlope;
  };
  consider(HELD, heldCost(jumps, changes, n) + 32, 0);
  const readAt = period > 1 ? (firstChange - 1) % period : 0;
  const samples = period > 1 ? Math.floor((n - 2 - readAt) / period) + 1 : 0;
  if (period > 1) consider(EVERY, riceCost(jumps, samples, riceParameter(jumps, samples)) + 24, 0);
  // A straight line: through both ends, or through one half where its slope changes on the way.
  const half = n >> 1;
  for (const [a, b] of [
    [0, n - 1],
    [0, half],
    [half, n - 1],
  ] as const) {
    if (b <= a || changes * 2 < n) continue;
    const its = Math.round(((x[from + b]! - x[from + a]!) * SLOPE_UNIT) / (b - a));
    const beside = besideLine(x, from, n, its);
    if (a === 0 && b === n - 1) consider(DELTA, riceCost(beside.sum, n, riceParameter(beside.sum, n)) + 24, its);
    consider(HELD, heldCost(beside.sum, beside.changes, n) + 40, its);
  }

  if (mode === LEVEL) {
    for (let i = 0; i < n; i++) mapped[i] = zigZag(x[from + i]! - center);
    const k = bestParameter(mapped, n);
    to.u8(LEVEL | (k << MODE_BITS));
    to.signed(center);
    writeRice(to, mapped, n, k);
  } else if (mode === DELTA) {
    const line = new Line(slope);
    for (let i = 1; i < n; i++) mapped[i - 1] = zigZag(x[from + i]! - x[from + i - 1]! - line.step());
    const k = bestParameter(mapped, n - 1);
    to.u8(DELTA | (k << MODE_BITS));
    to.signed(first);
    to.signed(slope);
    writeRice(to, mapped, n - 1, k);
  } else if (mode === HELD) {
    writeHeld(to, x, from, n, slope);
  } else {
    for (let s = 0, i = from + readAt; s < samples; s++, i += period) mapped[s] = zigZag(x[i + 1]! - x[i]!);
    const k = bestParameter(mapped, samples);
    to.u8(EVERY | (k << MODE_BITS));
    to.signed(first);
    to.u8(period - 1);
    to.u8(readAt);
    writeRice(to, mapped, samples, k);
  }
}

function heldCost(jumps: number, changes: number, n: number): number {
  return (
    riceCost(jumps, changes, riceParameter(jumps, changes)) + riceCost(n, changes + 1, riceParameter(n, changes + 1))
  );
}

const found = { sum: 0, changes: 0 };

/** How far, in all, the differences lie beside those of a line, and how many of them. */
function besideLine(x: Int32Array, from: number, n: number, slope: number): typeof found {
  const line = new Line(slope);
  let sum = 0;
  let changes = 0;
  for (let i = from + 1; i < from + n; i++) {
    const d = x[i]! - x[i - 1]! - line.step();
    if (d === 0) continue;
    changes++;
    sum += d < 0 ? -2 * d - 1 : 2 * d;
  }
  found.sum = sum;
  found.changes = changes;
  return found;
}

/** The steps of a straight line over integers. */
class Line {
  readonly #whole: number;
  readonly #part: number;
  #sum = SLOPE_UNIT / 2;

  constructor(slope: number) {
    this.#whole = Math.floor(slope / SLOPE_UNIT);
    this.#part = slope - this.#whole * SLOPE_UNIT;
  }

  step(): number {
    this.#sum += this.#part;
    if (this.#sum < SLOPE_UNIT) return this.#whole;
    this.#sum -= SLOPE_UNIT;
    return this.#whole + 1;
  }
}

function writeHeld(to: ByteWriter, x: Int32Array, from: number, n: number, slope: number): void {
  const line = new Line(slope);
  let runs = 0;
  let length = 0;
  for (let i = 1; i < n; i++) {
    const d = x[from + i]! - x[from + i - 1]! - line.step();
    if (d === 0) {
      length++;
    } else {
      lengths[runs] = length;
      // A jump is never 0, so one code is saved.
      mapped[runs++] = zigZag(d) - 1;
      length = 0;
    }
  }
  const jumpK = bestParameter(mapped, runs);
  const lengthK = bestParameter(lengths, runs);
  to.u8(HELD | (jumpK << MODE_BITS));
  to.u8(lengthK);
  to.signed(x[from]!);
  to.signed(slope);
  to.varint(runs);
  writeRice(to, lengths, runs, lengthK);
  writeRice(to, mapped, runs, jumpK);
}

/** Read n integers into out[0…n). */
export function readStream(reader: ByteReader, out: Int32Array, n: number): void {
  const head = reader.u8();
  const k = head >> MODE_BITS;
  const mode = head & MODE_MASK;
  if (mode === CONSTANT) {
    out.fill(reader.signed(), 0, n);
  } else if (mode === LEVEL) {
    const center = reader.signed();
    readRice(reader, mapped, n, k);
    for (let i = 0; i < n; i++) out[i] = center + unZigZag(mapped[i]!);
  } else if (mode === DELTA) {
    let v = reader.signed();
    const line = new Line(reader.signed());
    out[0] = v;
    readRice(reader, mapped, n - 1, k);
    for (let i = 1; i < n; i++) {
      v += line.step() + unZigZag(mapped[i - 1]!);
      out[i] = v;
    }
  } else if (mode === HELD) {
    readHeld(reader, out, n, k);
  } else if (mode === EVERY) {
    readEvery(reader, out, n, k);
  } else {
    throw new RangeError(`stream ${mode} is unknown`);
  }
}

function readEvery(reader: ByteReader, out: Int32Array, n: number, k: number): void {
  let v = reader.signed();
  const period = reader.u8() + 1;
  const readAt = reader.u8();
  const samples = Math.max(Math.floor((n - 2 - readAt) / period) + 1, 0);
  readRice(reader, mapped, samples, k);
  let at = 0;
  for (let s = 0, end = readAt + 1; s < samples; s++, end += period) {
    while (at < end) out[at++] = v;
    v += unZigZag(mapped[s]!);
  }
  while (at < n) out[at++] = v;
}

function readHeld(reader: ByteReader, out: Int32Array, n: number, jumpK: number): void {
  const lengthK = reader.u8();
  let v = reader.signed();
  const slope = reader.signed();
  // Never more than fit, whatever a damaged block says.
  const runs = Math.min(reader.varint(), GROUP);
  readRice(reader, lengths, runs, lengthK);
  readRice(reader, mapped, runs, jumpK);
  let at = 0;
  if (slope === 0) {
    for (let r = 0; r < runs; r++) {
      const end = Math.min(at + lengths[r]! + 1, n);
      while (at < end) out[at++] = v;
      v += unZigZag(mapped[r]! + 1);
    }
    while (at < n) out[at++] = v;
    return;
  }
  const line = new Line(slope);
  out[at++] = v;
  for (let r = 0; r < runs && at < n; r++) {
    const end = Math.min(at + lengths[r]!, n);
    while (at < end) out[at++] = v += line.step();
    v += line.step() + unZigZag(mapped[r]! + 1);
    if (at < n) out[at++] = v;
  }
  while (at < n) out[at++] = v += line.step();
}

function zigZag(v: number): number {
  return v < 0 ? -2 * v - 1 : 2 * v;
}

function unZigZag(u: number): number {
  return (u >>> 1) ^ -(u & 1);
}

/** Euclid; 0 is the neutral element. */
export function commonDivisor(a: number, b: number): number {
  let x = a;
  let y = b;
  while (y !== 0) {
    const rest = x % y;
    x = y;
    y = rest;
  }
  return x;
}
