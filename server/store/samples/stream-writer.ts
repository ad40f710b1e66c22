import type { ByteWriter } from './byte-writer.ts';
import { GROUP } from './column-format.ts';
import { bestParameter, riceCost, riceParameter, writeRice } from './rice.ts';
import { Line, MODE, MODE_BITS, SLOPE_UNIT } from './stream-format.ts';

const mapped = new Uint32Array(GROUP);
const lengths = new Uint32Array(GROUP);

/** Appends the n ≥ 1 integers x[from] to x[from + n − 1]. No two may differ by more than 2^28. */
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
    to.u8(MODE.constant);
    to.signed(first);
    return;
  }
  const mean = Math.round(sum / n);
  let level = 0;
  for (let i = 0; i < n; i++) {
    const d = x[from + i]! - mean;
    level += d < 0 ? -2 * d - 1 : 2 * d;
  }
  let mode: number = MODE.level;
  let slope = 0;
  let cost = riceCost(level, n, riceParameter(level, n)) + 8;
  const consider = (otherMode: number, otherCost: number, otherSlope: number): void => {
    if (otherCost >= cost) return;
    mode = otherMode;
    cost = otherCost;
    slope = otherSlope;
  };
  consider(MODE.held, heldCost(jumps, changes, n) + 32, 0);
  const readAt = period > 1 ? (firstChange - 1) % period : 0;
  const samples = period > 1 ? Math.floor((n - 2 - readAt) / period) + 1 : 0;
  if (period > 1) consider(MODE.every, riceCost(jumps, samples, riceParameter(jumps, samples)) + 24, 0);
  // A straight line through both ends, or through one half if the slope changes within the group.
  const half = n >> 1;
  for (const [a, b] of [
    [0, n - 1],
    [0, half],
    [half, n - 1],
  ] as const) {
    if (b <= a || changes * 2 < n) continue;
    const trialSlope = Math.round(((x[from + b]! - x[from + a]!) * SLOPE_UNIT) / (b - a));
    const deviations = deviationsFromLine(x, from, n, trialSlope);
    if (a === 0 && b === n - 1)
      consider(MODE.delta, riceCost(deviations.sum, n, riceParameter(deviations.sum, n)) + 24, trialSlope);
    consider(MODE.held, heldCost(deviations.sum, deviations.changes, n) + 40, trialSlope);
  }

  if (mode === MODE.level) {
    for (let i = 0; i < n; i++) mapped[i] = zigZag(x[from + i]! - mean);
    const k = bestParameter(mapped, n);
    to.u8(MODE.level | (k << MODE_BITS));
    to.signed(mean);
    writeRice(to, mapped, n, k);
  } else if (mode === MODE.delta) {
    const line = new Line(slope);
    for (let i = 1; i < n; i++) mapped[i - 1] = zigZag(x[from + i]! - x[from + i - 1]! - line.step());
    const k = bestParameter(mapped, n - 1);
    to.u8(MODE.delta | (k << MODE_BITS));
    to.signed(first);
    to.signed(slope);
    writeRice(to, mapped, n - 1, k);
  } else if (mode === MODE.held) {
    writeHeld(to, x, from, n, slope);
  } else {
    for (let s = 0, i = from + readAt; s < samples; s++, i += period) mapped[s] = zigZag(x[i + 1]! - x[i]!);
    const k = bestParameter(mapped, samples);
    to.u8(MODE.every | (k << MODE_BITS));
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

const deviation = { sum: 0, changes: 0 };

/**
 * Compares the differences with those of a straight line: `sum` adds up the zigzag codes of the deviations, `changes` counts
 * them. The returned object is reused.
 */
function deviationsFromLine(x: Int32Array, from: number, n: number, slope: number): typeof deviation {
  const line = new Line(slope);
  let sum = 0;
  let changes = 0;
  for (let i = from + 1; i < from + n; i++) {
    const d = x[i]! - x[i - 1]! - line.step();
    if (d === 0) continue;
    changes++;
    sum += d < 0 ? -2 * d - 1 : 2 * d;
  }
  deviation.sum = sum;
  deviation.changes = changes;
  return deviation;
}

/** Mode `held`: the lengths of the stretches that follow the line, and the jumps between them. */
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
      // A jump is never 0, so all codes can be one smaller.
      mapped[runs++] = zigZag(d) - 1;
      length = 0;
    }
  }
  const jumpK = bestParameter(mapped, runs);
  const lengthK = bestParameter(lengths, runs);
  to.u8(MODE.held | (jumpK << MODE_BITS));
  to.u8(lengthK);
  to.signed(x[from]!);
  to.signed(slope);
  to.varint(runs);
  writeRice(to, lengths, runs, lengthK);
  writeRice(to, mapped, runs, jumpK);
}

function zigZag(v: number): number {
  return v < 0 ? -2 * v - 1 : 2 * v;
}

/** Greatest common divisor (Euclid). With 0 it returns the other number. */
export function commonDivisor(a: number, b: number): number {
  let x = a;
  let y = b;
  while (y !== 0) {
    const remainder = x % y;
    x = y;
    y = remainder;
  }
  return x;
}
