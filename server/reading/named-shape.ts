import { type DecimalReader, PLACES_GAP } from './decimal.ts';
import type { FieldList } from './field-list.ts';

/** Bytes of a name after the first: letters, digits, and `_ . % / -`. */
const NAME_BYTES = new Uint8Array(256);
/** A name starts with a letter or `_`: a digit here means that two lines were joined into one. */
const FIRST_BYTES = new Uint8Array(256);
for (const byte of bytesOf('ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz_')) {
  NAME_BYTES[byte] = 1;
  FIRST_BYTES[byte] = 1;
}
for (const byte of bytesOf('0123456789.%/-')) NAME_BYTES[byte] = 1;

function bytesOf(text: string): number[] {
  return [...text].map((character) => character.charCodeAt(0));
}

/**
 * Read a line of the named shape: `name=value` or `name:value` fields, separated by blanks, commas or tabs.
 * @returns false = it is not of this shape
 */
export function readNamed(
  bytes: Uint8Array,
  start: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
): boolean {
  fields.clear();
  let at = start;
  for (;;) {
    while (at < end && isSeparator(bytes[at]!)) at++;
    if (at >= end) return fields.count > 0;
    const nameStart = at;
    if (FIRST_BYTES[bytes[at]!] === 0) return false;
    while (at < end && NAME_BYTES[bytes[at]!] === 1) at++;
    const nameEnd = at;
    if (at >= end || (bytes[at] !== 61 && bytes[at] !== 58)) return false;
    at++;
    if (at >= end || isSeparator(bytes[at]!)) {
      if (!fields.add(nameStart, nameEnd, Number.NaN, PLACES_GAP)) return false;
      continue;
    }
    at = decimal.read(bytes, at, end, false);
    if (at < 0 || (at < end && !isSeparator(bytes[at]!))) return false;
    if (!fields.add(nameStart, nameEnd, decimal.value, decimal.places)) return false;
  }
}

export function isSeparator(byte: number): boolean {
  return byte === 32 || byte === 44 || byte === 9;
}
