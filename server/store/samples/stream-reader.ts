import type { ByteReader } from './byte-reader.ts';
import { GROUP } from './column-format.ts';
import { readRice } from './rice.ts';
import { Line, MODE, MODE_BITS, MODE_MASK, SLOPE_BITS, SLOPE_UNIT } from './stream-format.ts';

const mapped = new Uint32Array(GROUP);
const lengths = new Uint32Array(GROUP);

/** Reads the first n integers of a group into out[0…n), n ≥ 1. */
export function readStream(reader: ByteReader, out: Int32Array, n: number): void {
  const head = reader.u8();
  const k = head >> MODE_BITS;
  const mode = head & MODE_MASK;
  if (mode === MODE.constant) {
    out.fill(reader.signed(), 0, n);
  } else if (mode === MODE.level) {
    // "| 0", here and below, keeps the engine in integer arithmetic; no value comes near 2^31.
    const center = reader.signed() | 0;
    readRice(reader, mapped, n, k);
    for (let i = 0; i < n; i++) out[i] = (center + unZigZag(mapped[i]!)) | 0;
  } else if (mode === MODE.delta) {
    readDelta(reader, out, n, k);
  } else if (mode === MODE.held) {
    readHeld(reader, out, n, k);
  } else if (mode === MODE.every) {
    readEvery(reader, out, n, k);
  } else {
    throw new RangeError(`stream ${mode} is unknown`);
  }
}

/** The steps of `Line`, inlined: a window spends most of its time here. */
function readDelta(reader: ByteReader, out: Int32Array, n: number, k: number): void {
  let v = reader.signed() | 0;
  const slope = reader.signed();
  const whole = Math.floor(slope / SLOPE_UNIT) | 0;
  const part = (slope - whole * SLOPE_UNIT) | 0;
  let sum = SLOPE_UNIT / 2;
  out[0] = v;
  readRice(reader, mapped, n - 1, k);
  for (let i = 1; i < n; i++) {
    sum = (sum + part) | 0;
    v = (v + (whole + (sum >> SLOPE_BITS) + unZigZag(mapped[i - 1]!))) | 0;
    sum &= SLOPE_UNIT - 1;
    out[i] = v;
  }
}

function readEvery(reader: ByteReader, out: Int32Array, n: number, k: number): void {
  let v = reader.signed() | 0;
  const period = reader.u8() + 1;
  const readAt = reader.u8();
  const samples = Math.max(Math.floor((n - 2 - readAt) / period) + 1, 0);
  readRice(reader, mapped, samples, k);
  let at = 0;
  for (let s = 0, end = readAt + 1; s < samples; s++, end += period) {
    while (at < end) out[at++] = v;
    v = (v + unZigZag(mapped[s]!)) | 0;
  }
  while (at < n) out[at++] = v;
}

function readHeld(reader: ByteReader, out: Int32Array, n: number, jumpK: number): void {
  const lengthK = reader.u8();
  let v = reader.signed() | 0;
  const slope = reader.signed();
  // A damaged block may hold any number: never read more than fit.
  const runs = Math.min(reader.varint(), GROUP);
  readRice(reader, lengths, runs, lengthK);
  let needed = 0;
  for (let end = 0; needed < runs && end < n; needed++) end += lengths[needed]! + 1;
  readRice(reader, mapped, needed, jumpK);
  let at = 0;
  if (slope === 0) {
    for (let r = 0; r < needed; r++) {
      const end = Math.min(at + lengths[r]! + 1, n);
      while (at < end) out[at++] = v;
      v = (v + unZigZag(mapped[r]! + 1)) | 0;
    }
    while (at < n) out[at++] = v;
    return;
  }
  const line = new Line(slope);
  out[at++] = v;
  for (let r = 0; r < needed && at < n; r++) {
    const end = Math.min(at + lengths[r]!, n);
    while (at < end) {
      v = (v + line.step()) | 0;
      out[at++] = v;
    }
    v = (v + line.step() + unZigZag(mapped[r]! + 1)) | 0;
    if (at < n) out[at++] = v;
  }
  while (at < n) {
    v = (v + line.step()) | 0;
    out[at++] = v;
  }
}

function unZigZag(u: number): number {
  return (u >>> 1) ^ -(u & 1);
}
