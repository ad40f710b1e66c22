import type { ByteReader } from './byte-reader.ts';
import type { ByteWriter } from './byte-writer.ts';
import { readRice, riceCost, riceParameter, writeRice } from './rice.ts';

/** Readings in a group: what must be decoded to find one reading. */
export const GROUP = 128;

/**
 * How the integers of a group are told; the cheapest is taken, group by group.
 * level: distance from the group's mean (white noise). delta: differences (a slow drift). bend: differences of
 * differences (clocks and length counters). held: run lengths and jumps (a sensor slower than the line).
 */
const LEVEL = 0;
const DELTA = 1;
const BEND = 2;
const HELD = 3;

const mapped = new Uint32Array(GROUP);
const lengths = new Uint32Array(GROUP);

/** Append n integers x[from…] with their minimum and mean; all of them lie within ±2^28 of each other. */
export function writeStream(to: ByteWriter, x: Int32Array, from: number, n: number, min: number, mean: number): void {
  const center = Math.round(mean);
  let level = 0;
  let delta = 0;
  let bend = 0;
  let changes = 0;
  let previous = x[from]!;
  let previousDelta = 0;
  for (let i = from; i < from + n; i++) {
    const v = x[i]!;
    level += v < center ? 2 * (center - v) - 1 : 2 * (v - center);
    const d = v - previous;
    delta += d < 0 ? -2 * d - 1 : 2 * d;
    const dd = d - previousDelta;
    bend += dd < 0 ? -2 * dd - 1 : 2 * dd;
    if (d !== 0) changes++;
    previous = v;
    previousDelta = d;
  }
  const levelK = riceParameter(level, n);
  const deltaK = riceParameter(delta, n);
  const bendK = riceParameter(bend, n);
  const jumpK = riceParameter(delta, changes);
  const lengthK = riceParameter(n, changes + 1);
  const first = x[from]! - min;
  const firstBits = first < 128 ? 8 : 16;
  const costs = [
    riceCost(level, n, levelK) + 8,
    riceCost(delta, n, deltaK) + firstBits,
    riceCost(bend, n, bendK) + firstBits + 8,
    riceCost(delta, changes, jumpK) + riceCost(n, changes + 1, lengthK) + firstBits + 24,
  ];
  let mode = LEVEL;
  for (let m = DELTA; m <= HELD; m++) if (costs[m]! < costs[mode]!) mode = m;

  if (mode === LEVEL) {
    to.u8(LEVEL | (levelK << 2));
    to.varint(center - min);
    for (let i = 0; i < n; i++) mapped[i] = zigZag(x[from + i]! - center);
    writeRice(to, mapped, n, levelK);
  } else if (mode === DELTA) {
    to.u8(DELTA | (deltaK << 2));
    to.varint(first);
    for (let i = 1; i < n; i++) mapped[i - 1] = zigZag(x[from + i]! - x[from + i - 1]!);
    writeRice(to, mapped, n - 1, deltaK);
  } else if (mode === BEND) {
    to.u8(BEND | (bendK << 2));
    to.varint(first);
    let last = n > 1 ? x[from + 1]! - x[from]! : 0;
    to.signed(last);
    for (let i = 2; i < n; i++) {
      const d = x[from + i]! - x[from + i - 1]!;
      mapped[i - 2] = zigZag(d - last);
      last = d;
    }
    writeRice(to, mapped, Math.max(n - 2, 0), bendK);
  } else {
    writeHeld(to, x, from, n, first, jumpK, lengthK);
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
    out[0] = v;
    readRice(reader, mapped, n - 1, k);
    for (let i = 1; i < n; i++) {
      v += unZigZag(mapped[i - 1]!);
      out[i] = v;
    }
  } else if (mode === BEND) {
    let v = min + reader.varint();
    let d = reader.signed();
    out[0] = v;
    if (n > 1) out[1] = v += d;
    readRice(reader, mapped, Math.max(n - 2, 0), k);
    for (let i = 2; i < n; i++) {
      d += unZigZag(mapped[i - 2]!);
      v += d;
      out[i] = v;
    }
  } else {
    readHeld(reader, out, n, min, k);
  }
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
