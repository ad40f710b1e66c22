import type { ByteReader } from './byte-reader.ts';
import type { ByteWriter } from './byte-writer.ts';

/** First byte of the gaps of a group: a plain bitmap, or the period of a repeating pattern (signals that are sent in turn). */
const BITMAP = 0;
/** Any other first byte is the period. */
const PERIOD_MAX = 64;

/** Appends which of the n readings of a group have a value. Only for groups with both kinds. */
export function writePresence(to: ByteWriter, present: Uint8Array, n: number): void {
  const period = findPeriod(present, n);
  to.u8(period === 0 ? BITMAP : period);
  writeBits(to, present, period === 0 ? n : period);
}

export function readPresence(from: ByteReader, present: Uint8Array, n: number): void {
  const period = from.u8();
  const length = period === BITMAP ? n : period;
  for (let i = 0; i < length; i += 8) {
    const byte = from.u8();
    for (let j = 0; j < 8 && i + j < length; j++) present[i + j] = (byte >> j) & 1;
  }
  for (let i = length; i < n; i++) present[i] = present[i - length]!;
}

function findPeriod(present: Uint8Array, n: number): number {
  for (let period = 1; period <= PERIOD_MAX && period * 2 <= n; period++) {
    let i = period;
    while (i < n && present[i] === present[i - period]) i++;
    if (i === n) return period;
  }
  return 0;
}

function writeBits(to: ByteWriter, present: Uint8Array, n: number): void {
  for (let i = 0; i < n; i += 8) {
    let byte = 0;
    for (let j = 0; j < 8 && i + j < n; j++) byte |= present[i + j]! << j;
    to.u8(byte);
  }
}
