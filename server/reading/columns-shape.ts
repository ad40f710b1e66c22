import { type DecimalReader, PLACES_GAP } from './decimal.ts';
import type { FieldList } from './field-list.ts';

const SEMICOLON = 59;
const TAB = 9;
const COMMA = 44;
const BLANK = 32;
const POINT = 46;

/**
 * Read a line of the columns shape: bare numbers separated by `;`, tab, `,` or blank. If several occur, the first of
 * these is the separator. Decimal commas are accepted with `;` and tab. A header line has names in the columns.
 * `fields.separator` is set to the separator; 0 = there is only one column.
 */
export function readColumns(
  bytes: Uint8Array,
  start: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
): 'numbers' | 'header' | 'none' {
  const separator = separatorOf(bytes, start, end);
  if (fill(bytes, start, end, separator, fields, decimal)) return 'numbers';
  return !hasMeasurement(bytes, start, end) && fill(bytes, start, end, separator, fields, null) ? 'header' : 'none';
}

function separatorOf(bytes: Uint8Array, start: number, end: number): number {
  let best = 0;
  for (let at = start; at < end; at++) {
    const byte = bytes[at]!;
    if (byte === SEMICOLON) return SEMICOLON;
    if (byte === TAB) best = TAB;
    else if (byte === COMMA && best !== TAB) best = COMMA;
    else if (byte === BLANK && best === 0) best = BLANK;
  }
  return best;
}

/** @param decimal null = read names instead of numbers */
function fill(
  bytes: Uint8Array,
  start: number,
  end: number,
  separator: number,
  fields: FieldList,
  decimal: DecimalReader | null,
): boolean {
  fields.clear();
  let at = skipBlanks(bytes, start, end);
  let last = end;
  while (last > at && bytes[last - 1] === BLANK) last--;
  if (at >= last) return false;
  for (;;) {
    let columnEnd = at;
    while (columnEnd < last && (bytes[columnEnd] !== separator || separator === 0)) columnEnd++;
    const closed = columnEnd < last;
    let textEnd = columnEnd;
    while (textEnd > at && bytes[textEnd - 1] === BLANK) textEnd--;
    if (!addColumn(bytes, at, textEnd, separator, fields, decimal)) return false;
    if (!closed) {
      fields.separator = fields.count > 1 ? separator : 0;
      return true;
    }
    at = skipBlanks(bytes, columnEnd + 1, last);
  }
}

function addColumn(
  bytes: Uint8Array,
  start: number,
  end: number,
  separator: number,
  fields: FieldList,
  decimal: DecimalReader | null,
): boolean {
  if (decimal === null) {
    const first = bytes[start] ?? 0;
    const upper = first & ~32;
    const isLetter = first >= 128 || (upper >= 65 && upper <= 90);
    return end > start && isLetter && fields.add(start, end, Number.NaN, PLACES_GAP);
  }
  if (end === start) return fields.add(start, start, Number.NaN, PLACES_GAP);
  const comma = separator === SEMICOLON || separator === TAB;
  if (decimal.read(bytes, start, end, comma) !== end) return false;
  return fields.add(start, start, decimal.value, decimal.places);
}

function skipBlanks(bytes: Uint8Array, from: number, end: number): number {
  let at = from;
  while (at < end && bytes[at] === BLANK) at++;
  return at;
}

/** A number with decimals, or of three digits, is a value and no part of a name: the line is no header. */
function hasMeasurement(bytes: Uint8Array, start: number, end: number): boolean {
  let digits = 0;
  for (let at = start; at < end; at++) {
    const byte = bytes[at] ?? 0;
    if (byte >= 48 && byte <= 57) digits++;
    else if (byte !== POINT) digits = 0;
    if (digits > 2 || (byte === POINT && digits > 0 && isDigit(bytes[at + 1]))) return true;
  }
  return false;
}

function isDigit(byte: number | undefined): boolean {
  return byte !== undefined && byte >= 48 && byte <= 57;
}
