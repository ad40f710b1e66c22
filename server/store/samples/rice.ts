import type { ByteReader } from './byte-reader.ts';
import type { ByteWriter } from './byte-writer.ts';

/**
 * Rice codes: an unsigned integer u as u >>> k in unary and its k low bits as they are. Within a tenth of a bit of the
 * entropy of measurement noise, without tables, decodable from any group of readings.
 * Rice & Plaunt, "Adaptive variable-length coding for efficient compression of spacecraft television data", IEEE Trans.
 * Commun. Technol. 19 (1971) 889–897; the scheme of CCSDS 121.0-B.
 */

/** Unary parts from here on are an escape: 31 plain bits follow. */
const ESCAPE = 24;

const LOWER_31 = 0x7fffffff;

/** A nearly optimal parameter for n values with this sum. */
export function riceParameter(sum: number, n: number): number {
  const mean = sum / Math.max(n, 1);
  let k = 0;
  while (mean >= 2 ** (k + 1) && k < 30) k++;
  return k;
}

/** The best parameter for the values: the one for their mean, or a neighbour of it. */
export function bestParameter(values: Uint32Array, n: number): number {
  let sum = 0;
  for (let i = 0; i < n; i++) sum += values[i]!;
  const middle = riceParameter(sum, n);
  let best = middle;
  let least = Number.POSITIVE_INFINITY;
  for (let k = Math.max(0, middle - 1); k <= Math.min(30, middle + 1); k++) {
    let bits = n * (k + 1);
    for (let i = 0; i < n; i++) bits += values[i]! >>> k;
    if (bits < least) {
      least = bits;
      best = k;
    }
  }
  return best;
}

/** Approximate bits for n values with this sum. */
export function riceCost(sum: number, n: number, k: number): number {
  // The unary part is rounded down: half a step less on average.
  return n * (k + 0.5) + (sum + n / 2) / 2 ** k;
}

/** Appends n unsigned values (each below `RICE_LIMIT`), then fill up to a whole byte. */
export function writeRice(to: ByteWriter, values: Uint32Array, n: number, k: number): void {
  to.reserve(n * 8 + 16);
  const bytes = to.bytes;
  let at = to.at;
  let acc = 0;
  let bits = 0;
  const lowMask = k === 0 ? 0 : -1 >>> (32 - k);
  for (let i = 0; i < n; i++) {
    const u = values[i]!;
    const q = u >>> k;
    let head: number;
    let headBits: number;
    let tail = 0;
    let tailBits = 0;
    if (q < ESCAPE) {
      if (q + 1 + k <= 24) {
        head = (1 << k) | (u & lowMask);
        headBits = q + 1 + k;
      } else {
        head = 1;
        headBits = q + 1;
        tail = u & lowMask;
        tailBits = k;
      }
    } else {
      // 24 zeros; the 1 that ends them is the first of the next 32 bits.
      head = 0;
      headBits = ESCAPE;
      tail = (0x80000000 | u) >>> 0;
      tailBits = 32;
    }
    acc = (acc << headBits) | head;
    bits += headBits;
    while (bits >= 8) {
      bits -= 8;
      bytes[at++] = acc >>> bits;
    }
    if (tailBits > 16) {
      const upper = tailBits - 16;
      acc = (acc << upper) | (tail >>> 16);
      bits += upper;
      while (bits >= 8) {
        bits -= 8;
        bytes[at++] = acc >>> bits;
      }
      tail &= 0xffff;
      tailBits = 16;
    }
    if (tailBits > 0) {
      acc = (acc << tailBits) | tail;
      bits += tailBits;
      while (bits >= 8) {
        bits -= 8;
        bytes[at++] = acc >>> bits;
      }
    }
  }
  if (bits > 0) bytes[at++] = acc << (8 - bits);
  to.at = at;
}

/**
 * Read n values into `out`. The buffer must go on for eight bytes after the last code (blocks are padded so).
 * Of each 32 bits that are loaded, 25 at least are new: up to three codes are taken from them.
 */
export function readRice(from: ByteReader, out: Uint32Array, n: number, k: number): void {
  const { bytes, view } = from;
  // Two shifts, the first one by a bit, so that k = 0 is no case of its own.
  const low = 31 - k;
  const room = 24 - k;
  const lastThree = n - 3;
  let pos = from.at * 8;
  let i = 0;
  while (i < n) {
    let window = view.getUint32(pos >>> 3) << (pos & 7);
    let q = Math.clz32(window);
    if (q > room || q >= ESCAPE) {
      pos = readLong(bytes, pos, out, i++, k);
      continue;
    }
    out[i++] = (q << k) | (((window << q) & LOWER_31) >>> low);
    let used = q + 1 + k;
    if (i <= lastThree) {
      window <<= used;
      q = Math.clz32(window);
      if (used + q <= room) {
        out[i++] = (q << k) | (((window << q) & LOWER_31) >>> low);
        window <<= q + 1 + k;
        used += q + 1 + k;
        q = Math.clz32(window);
        if (used + q <= room) {
          out[i++] = (q << k) | (((window << q) & LOWER_31) >>> low);
          used += q + 1 + k;
        }
      }
    }
    pos += used;
  }
  from.at = (pos + 7) >>> 3;
}

/** Read a code that is too long for the quick way into out[i]; where the next one begins, in bits. */
function readLong(bytes: Uint8Array, pos: number, out: Uint32Array, i: number, k: number): number {
  const zeros = Math.clz32(bitsAt(bytes, pos));
  if (zeros >= ESCAPE) {
    out[i] = bitsAt(bytes, pos + ESCAPE + 1) >>> 1;
    return pos + ESCAPE + 32;
  }
  out[i] = (zeros << k) | ((bitsAt(bytes, pos + zeros + 1) >>> 1) >>> (31 - k));
  return pos + zeros + 1 + k;
}

/** 32 bits from a bit's place on. */
function bitsAt(b: Uint8Array, at: number): number {
  const p = at >>> 3;
  const s = at & 7;
  const word = ((b[p]! << 24) | (b[p + 1]! << 16) | (b[p + 2]! << 8) | b[p + 3]!) << s;
  return s === 0 ? word : word | (b[p + 4]! >>> (8 - s));
}
