import { type DecimalReader, PLACES_GAP } from './decimal.ts';
import type { FieldList } from './field-list.ts';

const BLANK = 32;
const TAB = 9;
const COMMA = 44;
const POINT = 46;
const MINUS = 45;
const PLUS = 43;
const COLON = 58;
const EQUALS = 61;
const CLOSE_BRACKET = 93;
const OPEN_PARENTHESIS = 40;
const CLOSE_PARENTHESIS = 41;

/** Words that a sketch prints in place of a number. */
const GAPS = ['nan', 'inf', 'null'];
/** Digits that may end a name, as in "T1" or "zone12"; more of them, or a point, are a number. */
const NAME_DIGITS_MAX = 2;

/**
 * Read a line of free text, as a sketch prints it for people: `Dia: 0.069 in T: 198.8 C`. Every number in it is a field.
 * What stands between two numbers is left as it is; `textFields` makes names and units of it. A field's name range is
 * everything between the previous number and this one.
 * @returns false = it holds no number
 */
export function readText(
  bytes: Uint8Array,
  start: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
): boolean {
  fields.clear();
  const comma = hasDecimalCommas(bytes, start, end);
  let label = start;
  let at = start;
  while (at < end) {
    if (!isNumberStart(bytes, start, at, end)) {
      at++;
      continue;
    }
    const after = decimal.read(bytes, at, numberEnd(bytes, at, end, comma), comma);
    if (after < 0) {
      at = skipToken(bytes, at, end);
      continue;
    }
    if (!fields.add(label, at, decimal.value, decimal.places)) return false;
    at = after;
    label = after;
  }
  fields.separator = comma ? COMMA : 0;
  return fields.count > 0;
}

/** A comma between two digits is a decimal comma where every number with decimals has one and none has a point. */
function hasDecimalCommas(bytes: Uint8Array, start: number, end: number): boolean {
  let commas = 0;
  for (let at = start + 1; at < end - 1; at++) {
    const byte = bytes[at];
    if ((byte !== COMMA && byte !== POINT) || !isDigit(bytes[at - 1]) || !isDigit(bytes[at + 1])) continue;
    if (byte === POINT) return false;
    // "1,2,3" is a list.
    let next = at + 1;
    while (next < end && isDigit(bytes[next])) next++;
    if (bytes[next] === COMMA && next < end && isDigit(bytes[next + 1])) return false;
    commas++;
  }
  return commas > 0;
}

function isNumberStart(bytes: Uint8Array, start: number, at: number, end: number): boolean {
  const byte = bytes[at];
  const before = at > start ? bytes[at - 1] : BLANK;
  if (isLetter(byte)) return !isNameByte(before) && isGap(bytes, at, end);
  const sign = byte === MINUS || byte === PLUS;
  let digits = sign ? at + 1 : at;
  if (bytes[digits] === POINT) digits++;
  if (digits >= end || !isDigit(bytes[digits])) return false;
  // A sign behind a letter or a digit joins words: "pre-2", "10-20".
  if (sign) return !isNameByte(before);
  if (!isNameByte(before)) return !isOrdinal(bytes, start, at, end);
  if (before === POINT || isDigit(before) || byte === POINT) return false;
  let last = at;
  while (last < end && isDigit(bytes[last])) last++;
  const isDecimal = bytes[last] === POINT && last + 1 < end && isDigit(bytes[last + 1]);
  return isDecimal || last - at > NAME_DIGITS_MAX;
}

/** The number in "Zone 1: 185.2" belongs to the name: short, whole, behind a word and before a sign that ends a name. */
function isOrdinal(bytes: Uint8Array, start: number, at: number, end: number): boolean {
  let last = at;
  while (last < end && isDigit(bytes[last])) last++;
  if (last - at > NAME_DIGITS_MAX || at < start + 2 || !isBlank(bytes[at - 1]) || !isLetter(bytes[at - 2]))
    return false;
  last = afterRemark(bytes, last, end);
  while (last < end && isBlank(bytes[last])) last++;
  if (bytes[last] === POINT && bytes[last + 1] === POINT) return endsInNumber(bytes, last, end);
  return bytes[last] === COLON || bytes[last] === EQUALS || bytes[last] === CLOSE_BRACKET;
}

/** Past "(feed)" behind a number. @returns `at` = there is no word in parentheses */
function afterRemark(bytes: Uint8Array, at: number, end: number): number {
  let open = at;
  while (open < end && isBlank(bytes[open])) open++;
  if (bytes[open] !== OPEN_PARENTHESIS) return at;
  let close = open + 1;
  while (close < end && isLetter(bytes[close])) close++;
  return close > open + 1 && bytes[close] === CLOSE_PARENTHESIS ? close + 1 : at;
}

/** Dots that lead to a number, as in "Zone 1 ..... 185.2". */
function endsInNumber(bytes: Uint8Array, at: number, end: number): boolean {
  let last = at;
  while (last < end && bytes[last] === POINT) last++;
  while (last < end && isBlank(bytes[last])) last++;
  return isDigit(bytes[last]) || bytes[last] === MINUS;
}

function isGap(bytes: Uint8Array, at: number, end: number): boolean {
  return GAPS.some((word) => {
    if (at + word.length > end || isNameByte(bytes[at + word.length])) return false;
    for (let i = 0; i < word.length; i++) if (((bytes[at + i] ?? 0) | BLANK) !== word.charCodeAt(i)) return false;
    return true;
  });
}

/** Where a number ends, although a unit may touch it: `390.4F`, `0.243m`. */
export function numberEnd(bytes: Uint8Array, from: number, end: number, comma: boolean): number {
  let at = from;
  if (isLetter(bytes[at])) {
    while (at < end && isLetter(bytes[at])) at++;
    return at;
  }
  if (bytes[at] === MINUS || bytes[at] === PLUS) at++;
  let points = 0;
  while (at < end) {
    const byte = bytes[at];
    if (isDigit(byte)) at++;
    else if (points === 0 && (byte === POINT || (comma && byte === COMMA)) && isDigit(bytes[at + 1])) {
      points++;
      at++;
    } else break;
  }
  const isExponent = ((bytes[at] ?? 0) | BLANK) === 101;
  const digits = isExponent && (bytes[at + 1] === MINUS || bytes[at + 1] === PLUS) ? at + 2 : at + 1;
  if (isExponent && digits < end && isDigit(bytes[digits])) {
    at = digits;
    while (at < end && isDigit(bytes[at])) at++;
  }
  return at;
}

function skipToken(bytes: Uint8Array, from: number, end: number): number {
  let at = from + 1;
  while (at < end && isNameByte(bytes[at])) at++;
  return at;
}

/** Where the last number of a line ends. */
export function lastEnd(bytes: Uint8Array, end: number, fields: FieldList): number {
  let at = fields.nameEnd[fields.count - 1] ?? 0;
  at = numberEnd(bytes, at, end, fields.separator === COMMA);
  return Math.min(at, end);
}

/**
 * Reads lines that have the very form of an earlier one: what stands between the numbers is the same, byte for byte, but
 * for the number of blanks. An empty place where a number was is a gap.
 */
export class TextFormReader {
  readonly #count: number;
  readonly #comma: boolean;
  /** What is printed before each number and after the last, one after the other, without blanks at the edges. */
  readonly #marks: Uint8Array;
  readonly #markEnds: Int32Array;
  /** 1 = the number must stay apart from its mark, because together they would be another number: "N2 1.5" and "N21.5". */
  readonly #apart: Uint8Array;

  /** `fields`: of the line in `bytes` that ends at `end`. */
  constructor(bytes: Uint8Array, end: number, fields: FieldList) {
    const behind = lastEnd(bytes, end, fields);
    this.#count = fields.count;
    this.#comma = fields.separator === COMMA;
    this.#markEnds = new Int32Array(fields.count + 1);
    this.#apart = new Uint8Array(fields.count + 1);
    const marks: number[] = [];
    for (let i = 0; i <= fields.count; i++) {
      let from = i < fields.count ? (fields.nameStart[i] ?? 0) : behind;
      let to = i < fields.count ? (fields.nameEnd[i] ?? 0) : end;
      while (from < to && isBlank(bytes[from])) from++;
      while (to > from && isBlank(bytes[to - 1])) to--;
      for (let at = from; at < to; at++) {
        const byte = bytes[at] ?? 0;
        if (!isBlank(byte)) marks.push(byte);
        else if (marks.at(-1) !== BLANK) marks.push(BLANK);
      }
      this.#markEnds[i] = marks.length;
      if (to > from && isBlank(bytes[to]) && isNumberByte(marks.at(-1))) this.#apart[i] = 1;
    }
    this.#marks = Uint8Array.from(marks);
  }

  /**
   * @param gaps whether a number may be missing; not as long as its place is only assumed
   * @returns false = the line has another form
   */
  read(
    bytes: Uint8Array,
    start: number,
    end: number,
    fields: FieldList,
    decimal: DecimalReader,
    gaps = false,
  ): boolean {
    const { values, places } = fields;
    const count = this.#count;
    let at = start;
    for (let i = 0; i < count; i++) {
      at = this.#passMark(i, bytes, at, end);
      if (at < 0) return false;
      const close = numberEnd(bytes, at, end, this.#comma);
      const after = close > at ? decimal.read(bytes, at, close, this.#comma) : -1;
      if (after === close) {
        values[i] = decimal.value;
        places[i] = decimal.places;
        at = after;
      } else if (gaps && this.#hasMark(i) && this.#passMark(i + 1, bytes, at, end) >= 0) {
        values[i] = Number.NaN;
        places[i] = PLACES_GAP;
      } else return false;
    }
    at = this.#passMark(count, bytes, at, end);
    if (at < end) return false;
    fields.count = count;
    fields.separator = this.#comma ? COMMA : 0;
    return true;
  }

  /** A number may only be missing where something stands before it that shows its place. */
  #hasMark(i: number): boolean {
    return (this.#markEnds[i] ?? 0) > (i === 0 ? 0 : (this.#markEnds[i - 1] ?? 0));
  }

  /** Go past what stands at place i, and the blanks around it. @returns -1 = something else stands there */
  #passMark(i: number, bytes: Uint8Array, from: number, end: number): number {
    const marks = this.#marks;
    const markEnd = this.#markEnds[i] ?? 0;
    let mark = i === 0 ? 0 : (this.#markEnds[i - 1] ?? 0);
    let at = from;
    while (at < end && (bytes[at] === BLANK || bytes[at] === TAB)) at++;
    for (; mark < markEnd; mark++) {
      if (marks[mark] === BLANK) {
        if (at >= end || (bytes[at] !== BLANK && bytes[at] !== TAB)) return -1;
        while (at < end && (bytes[at] === BLANK || bytes[at] === TAB)) at++;
      } else {
        if (at >= end || bytes[at] !== marks[mark]) return -1;
        at++;
      }
    }
    const markAt = at;
    while (at < end && (bytes[at] === BLANK || bytes[at] === TAB)) at++;
    return at === markAt && this.#apart[i] === 1 && isNumberByte(bytes[at]) ? -1 : at;
  }
}

export function isBlank(byte: number | undefined): boolean {
  return byte === BLANK || byte === TAB;
}

export function isDigit(byte: number | undefined): boolean {
  return byte !== undefined && byte >= 48 && byte <= 57;
}

function isNumberByte(byte: number | undefined): boolean {
  return isDigit(byte) || byte === POINT || byte === MINUS || byte === PLUS;
}

/** Bytes beyond ASCII are letters: of UTF-8 or of Latin-1. */
export function isLetter(byte: number | undefined): boolean {
  if (byte === undefined) return false;
  const upper = byte & ~BLANK;
  return (upper >= 65 && upper <= 90) || byte >= 128;
}

function isNameByte(byte: number | undefined): boolean {
  return isLetter(byte) || isDigit(byte) || byte === 95 || byte === POINT;
}
