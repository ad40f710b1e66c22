import { type DecimalReader, PLACES_GAP } from './decimal.ts';
import type { FieldList } from './field-list.ts';

const QUOTE = 34;

/**
 * Read one flat JSON object. JSON.parse would hide a duplicate name, which is the sign of two lines joined into one, and
 * refuse the bare `nan` that sketches print.
 * @returns false = it is not such an object
 */
export function readJson(
  bytes: Uint8Array,
  start: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
): boolean {
  fields.clear();
  let at = skipBlanks(bytes, start, end);
  if (bytes[at] !== 123) return false;
  at = skipBlanks(bytes, at + 1, end);
  for (;;) {
    if (at >= end || bytes[at] !== QUOTE) return false;
    const nameStart = at + 1;
    const nameEnd = endOfString(bytes, nameStart, end);
    if (nameEnd <= nameStart) return false;
    at = skipBlanks(bytes, nameEnd + 1, end);
    if (at >= end || bytes[at] !== 58) return false;
    at = readValue(bytes, skipBlanks(bytes, at + 1, end), end, decimal);
    if (at < 0 || !fields.add(nameStart, nameEnd, decimal.value, decimal.places)) return false;
    at = skipBlanks(bytes, at, end);
    if (at >= end) return false;
    if (bytes[at] === 125) return skipBlanks(bytes, at + 1, end) === end;
    if (bytes[at] !== 44) return false;
    at = skipBlanks(bytes, at + 1, end);
  }
}

/** Read a number or a gap, with or without quotes. */
function readValue(bytes: Uint8Array, at: number, end: number, decimal: DecimalReader): number {
  if (at < end && bytes[at] === QUOTE) {
    const close = endOfString(bytes, at + 1, end);
    if (close < 0) return -1;
    if (close === at + 1) {
      decimal.value = Number.NaN;
      decimal.places = PLACES_GAP;
      return close + 1;
    }
    return decimal.read(bytes, at + 1, close, false) === close ? close + 1 : -1;
  }
  return decimal.read(bytes, at, end, false);
}

/** Position of the closing quote; -1 = there is none, or the string has escapes, which no name needs. */
function endOfString(bytes: Uint8Array, from: number, end: number): number {
  for (let at = from; at < end; at++) {
    if (bytes[at] === QUOTE) return at;
    if (bytes[at] === 92) return -1;
  }
  return -1;
}

function skipBlanks(bytes: Uint8Array, from: number, end: number): number {
  let at = from;
  while (at < end && (bytes[at] === 32 || bytes[at] === 9)) at++;
  return at;
}
