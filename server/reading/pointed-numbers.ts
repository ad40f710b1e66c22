import { decoded } from './line-text.ts';
import { LINE_BYTES_MAX } from './names.ts';
import { isBlank, isDigit, isLetter, numberEnd } from './text-shape.ts';

const BLANK = 32;

/**
 * Numbers that a user pointed at by the word before each, for lines whose other words change all the time. Of the line
 * "Tue, fine: adc 787, hum 41" with the word "adc" the text "adc 787" is left, and read like any free text.
 */
export class PointedNumbers {
  readonly #words: readonly Uint8Array[];
  // Never longer than the line, with a blank before and behind each number.
  readonly #picked: Uint8Array;
  bytes: Uint8Array;
  start = 0;
  end = 0;

  /** @param words empty = the whole line is read */
  constructor(words: readonly string[]) {
    const encoder = new TextEncoder();
    this.#words = words.map((word) => encoder.encode(word));
    this.#picked = new Uint8Array(words.length === 0 ? 0 : LINE_BYTES_MAX + 2 * words.length);
    this.bytes = this.#picked;
  }

  get isUsed(): boolean {
    return this.#words.length > 0;
  }

  /**
   * Sets `bytes`, `start` and `end` to what is to be read of a line: in the order of the words; empty if none is there, or if
   * one is there twice, which is the sign of two lines joined into one.
   */
  pick(bytes: Uint8Array, start: number, end: number): void {
    if (!this.isUsed) {
      this.bytes = bytes;
      this.start = start;
      this.end = end;
      return;
    }
    let length = 0;
    for (const word of this.#words) {
      const from = numberBehind(word, bytes, start, end);
      if (from < 0) continue;
      if (numberBehind(word, bytes, from, end) >= 0) {
        length = 0;
        break;
      }
      this.#picked.set(word, length);
      length += word.length;
      this.#picked[length++] = BLANK;
      const to = numberEnd(bytes, from, end, true);
      this.#picked.set(bytes.subarray(from, to), length);
      length += to - from;
      this.#picked[length++] = BLANK;
    }
    this.start = 0;
    this.end = Math.max(0, length - 1);
  }
}

/** The numbers behind a whole word, as printed, in a line that a user may point at. */
export function numbersBehind(word: string, line: string): readonly string[] {
  const [mark, bytes] = [new TextEncoder().encode(word), new TextEncoder().encode(line)];
  const numbers: string[] = [];
  for (let at = numberBehind(mark, bytes, 0, bytes.length); at >= 0; at = numberBehind(mark, bytes, at, bytes.length))
    numbers.push(decoded(bytes, at, numberEnd(bytes, at, bytes.length, true)));
  return numbers;
}

/** Where the number behind a whole word begins; -1 = the word is not there, or no whole number is behind it. */
function numberBehind(word: Uint8Array, bytes: Uint8Array, start: number, end: number): number {
  for (let at = start; at + word.length < end; at++) {
    if (at > start && isWordByte(bytes[at - 1])) continue;
    let i = 0;
    while (i < word.length && bytes[at + i] === word[i]) i++;
    if (i < word.length) continue;
    let from = at + i;
    while (from < end && isBetween(bytes[from])) from++;
    const digits = bytes[from] === MINUS || bytes[from] === PLUS ? from + 1 : from;
    if (from === at + i || !isDigit(bytes[digits])) continue;
    if (!isTornAt(bytes, numberEnd(bytes, from, end, true), end)) return from;
  }
  return -1;
}

/** What damage leaves behind a number, and a sketch never prints there. A unit may touch it. */
function isTornAt(bytes: Uint8Array, at: number, end: number): boolean {
  if (at >= end) return false;
  const byte = bytes[at] ?? 0;
  if (byte === COMMA || byte === POINT) return isDigit(bytes[at + 1]);
  return !(isBlank(byte) || isLetter(byte) || BEHIND.has(byte));
}

const [MINUS, PLUS, POINT, COMMA, UNDERSCORE, COLON, EQUALS] = [45, 43, 46, 44, 95, 58, 61];
/** What may touch a number: % " ' ) / ; > ] | } */
const BEHIND: ReadonlySet<number> = new Set([37, 34, 39, 41, 47, 59, 62, 93, 124, 125]);

/** Between a word and its number: blanks, a colon or an equals sign. */
function isBetween(byte: number | undefined): boolean {
  return isBlank(byte) || byte === COLON || byte === EQUALS;
}

function isWordByte(byte: number | undefined): boolean {
  return isLetter(byte) || isDigit(byte) || byte === UNDERSCORE;
}
