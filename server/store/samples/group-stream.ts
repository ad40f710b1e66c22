import type { ByteReader } from './byte-reader.ts';
import type { ByteWriter } from './byte-writer.ts';
import { readRice, riceCost, riceParameter, writeRice } from './rice.ts';

/** Readings in a group: what must be decoded to find one reading. */
export const GROUP = 128;

/**
 * How the integers of a group are told; the cheapest is taken, group by group.
 * level: distance from the group's mean (white noise). delta: differences, as distance from their mean (clocks, length
 * counters, slow drifts). held: run lengths and jumps. every: a sensor that is read at every p-th reading only, told as
 * the differences of what it said then.
 */
const LEVEL = 0;
const DELTA = 1;
const HELD = 2;
const EVERY = 3;

const mapped = new Uint32Array(GROUP);
const lengths = new Uint32Array(GROUP);

/** Append n integers x[from…) with their minimum and mean; all of them lie within ±2^28 of each other. */
export function writeStream(to: ByteWriter, x: Int32Array, from: number, n: number, min: number, mean: number): void {
  const center = Math.round(mean);
  const slope = n > 1 ? Math.round((x[from + n - 1]! - x[from]!) / (n - 1)) : 0;
  let level = 0;
  let delta = 0;
  let jumps = 0;
  let changes = 0;
  let period = 0;
  let firstChange = 0;
  let previous = x[from]!;
  for (let i = 0; i < n; i++) {
    const v = x[from + i]!;
    level += v < center ? 2 * (center - v) - 1 : 2 * (v - center);
    const d = v - previous;
    if (d !== 0) {
      if (changes === 0) firstChange = i;
      else if (period !== 1) period = commonDivisor(i - firstChange, period);
      changes++;
      jumps += d < 0 ? -2 * d - 1 : 2 * d;
    }
    const beside = d - slope;
    delta += beside < 0 ? -2 * beside - 1 : 2 * beside;
    previous = v;
  }
  const levelK = riceParameter(level, n);
  const deltaK = riceParameter(delta, n);
  const jumpK = riceParameter(jumps, changes);
  const lengthK = riceParameter(n, changes + 1);
  const first = x[from]! - min;
  const firstBits = first < 128 ? 8 : 16;
  let mode = LEVEL;
  let cost = riceCost(level, n, levelK) + 8;
  const consider = (other: number, its: number): void => {
    if (its >= cost) return;
    mode = other;
    cost = its;
  };
  consider(DELTA, riceCost(delta, n, deltaK) + firstBits + 8);
  consider(HELD, riceCost(jumps, changes, jumpK) + riceCost(n, changes + 1, lengthK) + firstBits + 24);
  const readAt = period > 1 ? (firstChange - 1) % period : 0;
  const samples = period > 1 ? Math.floor((n - 2 - readAt) / period) + 1 : 0;
  const everyK = riceParameter(jumps, samples);
  if (period > 1) consider(EVERY, riceCost(jumps, samples, everyK) + firstBits + 16);

  if (mode === LEVEL) {
    to.u8(LEVEL | (levelK << 2));
    to.varint(center - min);
    for (let i = 0; i < n; i++) mapped[i] = zigZag(x[from + i]! - center);
    writeRice(to, mapped, n, levelK);
  } else if (mode === DELTA) {
    to.u8(DELTA | (deltaK << 2));
    to.varint(first);
    to.signed(slope);
    for (let i = 1; i < n; i++) mapped[i - 1] = zigZag(x[from + i]! - x[from + i - 1]! - slope);
    writeRice(to, mapped, n - 1, deltaK);
  } else if (mode === HELD) {
    writeHeld(to, x, from, n, first, jumpK, lengthK);
  } else {
    to.u8(EVERY | (everyK << 2));
    to.varint(first);
    to.u8(period);
    to.u8(readAt);
    for (let s = 0, i = from + readAt; s < samples; s++, i += period) mapped[s] = zigZag(x[i + 1]! - x[i]!);
    writeRice(to, mapped, samples, everyK);
  }
}

function writeHeld(
  to: ByteWriter,
  x: Int32Array,
  from: number,
  n: number,
  first: number,
  jumpK: number,
  lengthK: number,
): void {
  let runs = 0;
  let length = 0;
  for (let i = 1; i < n; i++) {
    const d = x[from + i]! - x[from + i - 1]!;
    if (d === 0) {
      length++;
    } else {
      lengths[runs] = length;
      // A jump is never 0, so one code is saved.
      mapped[runs++] = zigZag(d) - 1;
      length = 0;
    }
  }
  to.u8(HELD | (jumpK << 2));
  to.u8(lengthK);
  to.varint(first);
  to.varint(runs);
  writeRice(to, lengths, runs, lengthK);
  writeRice(to, mapped, runs, jumpK);
}

/** Read n integers into out[0…n). */
export function readStream(reader: ByteReader, out: Int32Array, n: number, min: number): void {
  const head = reader.u8();
  const k = head >> 2;
  const mode = head & 3;
  if (mode === LEVEL) {
    const center = min + reader.varint();
    readRice(reader, mapped, n, k);
    for (let i = 0; i < n; i++) out[i] = center + unZigZag(mapped[i]!);
  } else if (mode === DELTA) {
    let v = min + reader.varint();
    const slope = reader.signed();
    out[0] = v;
    readRice(reader, mapped, n - 1, k);
    for (let i = 1; i < n; i++) {
      v += slope + unZigZag(mapped[i - 1]!);
      out[i] = v;
    }
  } else if (mode === HELD) {
    readHeld(reader, out, n, min, k);
  } else {
    readEvery(reader, out, n, min, k);
  }
}

function readEvery(reader: ByteReader, out: Int32Array, n: number, min: number, k: number): void {
  let v = min + reader.varint();
  const period = Math.max(reader.u8(), 1);
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

function readHeld(reader: ByteReader, out: Int32Array, n: number, min: number, jumpK: number): void {
  const lengthK = reader.u8();
  let v = min + reader.varint();
  // Never more than fit, whatever a damaged block says.
  const runs = Math.min(reader.varint(), GROUP);
  readRice(reader, lengths, runs, lengthK);
  readRice(reader, mapped, runs, jumpK);
  let at = 0;
  for (let r = 0; r < runs; r++) {
    const end = Math.min(at + lengths[r]! + 1, n);
    while (at < end) out[at++] = v;
    v += unZigZag(mapped[r]! + 1);
  }
  while (at < n) out[at++] = v;
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
