import { type DecimalReader, PLACES_GAP } from './decimal.ts';
import { type FieldList, NAME_BYTES_MAX } from './field-list.ts';

const QUOTE = 34;
const COMMA = 44;
const COLON = 58;
const OPEN_LIST = 91;
const CLOSE_LIST = 93;
const OPEN_OBJECT = 123;
const CLOSE_OBJECT = 125;
/** Deeper than any sketch nests; it bounds the work on garbage. */
const DEPTH_MAX = 6;

/**
 * Read one JSON object. Numbers in nested objects and lists are fields named by their path, as in `zones.0.c`; other
 * texts, `true` and `false` are passed over. Not by JSON.parse, because that hides a name that comes twice (the sign of
 * two lines spliced into one) and refuses the bare `nan` that sketches print.
 * @returns false = it is none, or it holds no number
 */
export function readJson(
  bytes: Uint8Array,
  start: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
): boolean {
  fields.clear();
  const at = skipBlanks(bytes, start, end);
  if (bytes[at] !== OPEN_OBJECT) return false;
  const after = readObject(bytes, at, end, fields, decimal, '', 0);
  return after >= 0 && skipBlanks(bytes, after, end) === end && fields.count > 0;
}

/** @returns the place behind the closing brace; -1 = it is no object */
function readObject(
  bytes: Uint8Array,
  from: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
  path: string,
  depth: number,
): number {
  let at = skipBlanks(bytes, from + 1, end);
  if (bytes[at] === CLOSE_OBJECT && at < end) return depth === 0 ? -1 : at + 1;
  for (;;) {
    if (at >= end || bytes[at] !== QUOTE) return -1;
    const nameStart = at + 1;
    const nameEnd = endOfString(bytes, nameStart, end);
    if (nameEnd <= nameStart) return -1;
    at = skipBlanks(bytes, nameEnd + 1, end);
    if (at >= end || bytes[at] !== COLON) return -1;
    at = skipBlanks(bytes, at + 1, end);
    at = readMember(bytes, at, end, fields, decimal, path, nameStart, nameEnd, depth);
    if (at < 0) return -1;
    at = skipBlanks(bytes, at, end);
    if (at >= end) return -1;
    if (bytes[at] === CLOSE_OBJECT) return at + 1;
    if (bytes[at] !== COMMA) return -1;
    at = skipBlanks(bytes, at + 1, end);
  }
}

function readMember(
  bytes: Uint8Array,
  at: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
  path: string,
  nameStart: number,
  nameEnd: number,
  depth: number,
): number {
  if (depth === 0 && bytes[at] !== OPEN_OBJECT && bytes[at] !== OPEN_LIST)
    return readValue(bytes, at, end, fields, decimal, nameStart, nameEnd, null);
  const name = `${path}${textOf(bytes, nameStart, nameEnd)}`;
  return readNested(bytes, at, end, fields, decimal, name, depth);
}

function readNested(
  bytes: Uint8Array,
  at: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
  name: string,
  depth: number,
): number {
  if (depth >= DEPTH_MAX) return -1;
  if (bytes[at] === OPEN_OBJECT) return readObject(bytes, at, end, fields, decimal, `${name}.`, depth + 1);
  if (bytes[at] === OPEN_LIST) return readList(bytes, at, end, fields, decimal, name, depth + 1);
  return readValue(bytes, at, end, fields, decimal, at, at, name.length > NAME_BYTES_MAX ? endOfPath(name) : name);
}

/** The last parts of a path that is too long for a name. */
function endOfPath(path: string): string {
  const from = path.indexOf('.', path.length - NAME_BYTES_MAX - 1);
  return path.slice(from < 0 ? -NAME_BYTES_MAX : from + 1);
}

function readList(
  bytes: Uint8Array,
  from: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
  name: string,
  depth: number,
): number {
  let at = skipBlanks(bytes, from + 1, end);
  if (bytes[at] === CLOSE_LIST && at < end) return at + 1;
  for (let i = 0; ; i++) {
    at = readNested(bytes, at, end, fields, decimal, `${name}.${i}`, depth);
    if (at < 0) return -1;
    at = skipBlanks(bytes, at, end);
    if (at >= end) return -1;
    if (bytes[at] === CLOSE_LIST) return at + 1;
    if (bytes[at] !== COMMA) return -1;
    at = skipBlanks(bytes, at + 1, end);
  }
}

/** A number, a gap, or one of them in quotes; other texts and truth values are passed over. @returns -1 = none of them */
function readValue(
  bytes: Uint8Array,
  at: number,
  end: number,
  fields: FieldList,
  decimal: DecimalReader,
  nameStart: number,
  nameEnd: number,
  name: string | null,
): number {
  let after: number;
  if (at < end && bytes[at] === QUOTE) {
    const close = endOfString(bytes, at + 1, end);
    if (close < 0) return -1;
    after = close + 1;
    if (close === at + 1) {
      decimal.value = Number.NaN;
      decimal.places = PLACES_GAP;
    } else if (decimal.read(bytes, at + 1, close, false) !== close) return after;
  } else {
    const word = wordAt(bytes, at, end);
    if (word > at) return word;
    after = decimal.read(bytes, at, end, false);
    if (after < 0) return -1;
  }
  return fields.add(nameStart, nameEnd, decimal.value, decimal.places, name) ? after : -1;
}

/** Place behind `true` or `false`; else `at`. */
function wordAt(bytes: Uint8Array, at: number, end: number): number {
  for (const word of WORDS) {
    let i = 0;
    while (i < word.length && at + i < end && bytes[at + i] === word[i]) i++;
    if (i === word.length) return at + i;
  }
  return at;
}

const WORDS = ['true', 'false'].map((word) => Uint8Array.from(word, (character) => character.charCodeAt(0)));

function textOf(bytes: Uint8Array, start: number, end: number): string {
  let text = '';
  for (let at = start; at < end; at++) text += String.fromCharCode(bytes[at] ?? 0);
  return text;
}

/** Place of the closing quote; -1 = none, or the text has escapes, which no name of a signal needs. */
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
