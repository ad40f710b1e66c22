import { LINE_BYTES_MAX } from './names.ts';
import { withoutTerminalCodes } from './terminal-codes.ts';

const LF = 10;
const CR = 13;
const TAB = 9;
/** So many carriage returns without a line feed between them end lines. A terminal driver adds one or two. */
const LONE_RETURNS = 4;

/**
 * Splits a stream of bytes into lines that end in LF or CRLF, regardless of its chunks; in CR where no LF comes. It holds at most one line, so that
 * a stream without line ends (wrong baud rate) costs neither memory nor time.
 *
 *     splitter.feed(chunk);
 *     while (splitter.next()) { … splitter.bytes, splitter.start, splitter.end … }
 *
 * The fields are valid until the next call. Lines are read in place, because copying each would halve the speed.
 */
export class LineSplitter {
  /** The line is in `bytes` from `start` to `end`, without its line end. */
  bytes: Uint8Array = EMPTY;
  start = 0;
  end = 0;
  /** The line has more than 512 bytes: only the first 512 are kept, and it must not be read. */
  tooLong = false;
  /** Printable ASCII and tabs only. */
  ascii = true;
  /** It has a control byte, or a carriage return before its end. */
  hasControl = false;
  /** XOR of all bytes of the line. */
  xor = 0;

  /** A line of full length, with space for a few carriage returns after it. */
  readonly #carry = new Uint8Array(LINE_BYTES_MAX + 8);
  #carried = 0;
  /** Holds a line without its terminal codes. */
  readonly #plain = new Uint8Array(LINE_BYTES_MAX);
  /** A carriage return ends a line: the board sends no line feeds. */
  #returnEnds = false;
  #chunk: Uint8Array = EMPTY;
  #view: DataView = NO_VIEW;
  #position = 0;
  // State of the line that is being collected.
  #length = 0;
  #returns = 0;
  #returnsAtEnd = 0;
  #xor = 0;
  #ascii = true;
  #hasControl = false;

  /** Discard the incomplete line of an old connection. */
  reset(): void {
    this.#chunk = EMPTY;
    this.#position = 0;
    this.#returnEnds = false;
    this.#startLine();
  }

  feed(chunk: Uint8Array): void {
    this.#chunk = chunk;
    this.#view = new DataView(chunk.buffer, chunk.byteOffset, chunk.byteLength);
    this.#position = 0;
  }

  /** Go to the next complete line of the chunk. @returns false = there is none; the rest is kept for the next chunk */
  next(): boolean {
    const chunk = this.#chunk;
    const from = this.#position;
    const size = chunk.length;
    const view = this.#view;
    const lastWord = size - 4;
    let xor = this.#xor;
    let xors = 0;
    let ascii = this.#ascii;
    let hasControl = this.#hasControl;
    let returns = this.#returns;
    let at = from;
    let complete = false;
    while (at < size) {
      // Nearly all of a line can be read four bytes at a time.
      if (at <= lastWord) {
        const word = view.getInt32(at);
        if (allPrintable(word)) {
          xors ^= word;
          at += 4;
          continue;
        }
      }
      const byte = chunk[at]!;
      if (byte < 32 || byte > 126) {
        if (byte === LF) {
          complete = true;
          break;
        }
        if (byte === CR) {
          if (this.#returnEnds || returns === LONE_RETURNS - 1) {
            complete = true;
            break;
          }
          returns++;
          at++;
          continue;
        }
        if (byte !== TAB) {
          ascii = false;
          if (byte < 128) hasControl = true;
        }
      }
      xor ^= byte;
      at++;
    }
    xor ^= (xors ^ (xors >> 8) ^ (xors >> 16) ^ (xors >> 24)) & 0xff;
    this.#returnsAtEnd = trailingReturns(chunk, from, at, this.#returnsAtEnd);
    this.#length += at - from;
    this.#xor = xor;
    this.#ascii = ascii;
    this.#hasControl = hasControl;
    this.#returns = returns;
    if (!complete) {
      this.#keep(chunk, from, at);
      this.#chunk = EMPTY;
      this.#position = 0;
      return false;
    }
    const length = this.#length - this.#returnsAtEnd;
    this.tooLong = length > LINE_BYTES_MAX;
    this.xor = xor;
    this.#returnEnds = chunk[at] === CR || (this.#returnEnds && this.#length > 0);
    if (this.#carried === 0) {
      this.bytes = chunk;
      this.start = from;
      this.end = from + Math.min(length, LINE_BYTES_MAX);
    } else {
      this.#keep(chunk, from, at);
      this.bytes = this.#carry;
      this.start = 0;
      this.end = Math.min(length, LINE_BYTES_MAX);
    }
    // A carriage return is only allowed at the end, and at the start: some sketches end their lines in LF CR.
    const hasReturn = returns !== this.#returnsAtEnd && !this.#skipReturns(returns - this.#returnsAtEnd);
    this.ascii = ascii && !hasReturn;
    this.hasControl = hasControl || hasReturn;
    if (hasControl && !hasReturn && !this.tooLong) this.#dropTerminalCodes();
    this.#position = at + 1;
    this.#startLine();
    return true;
  }

  /** Number of lines that end in the part of the chunk that `next` has not reached yet. */
  linesLeft(): number {
    const lineEnd = this.#returnEnds ? CR : LF;
    let lines = 0;
    let at = this.#chunk.indexOf(lineEnd, this.#position);
    while (at >= 0) {
      lines++;
      at = this.#chunk.indexOf(lineEnd, at + 1);
    }
    return lines;
  }

  /** Skip carriage returns at the start of the line. @returns false = there are fewer than `count`, so one is inside */
  #skipReturns(count: number): boolean {
    for (let i = 0; i < count; i++) if (this.bytes[this.start + i] !== CR) return false;
    this.start += count;
    return true;
  }

  /** Colours on a terminal are not part of the text. */
  #dropTerminalCodes(): void {
    const plain = this.#plain;
    const length = withoutTerminalCodes(this.bytes, this.start, this.end, plain);
    if (length < 0) return;
    this.bytes = plain;
    this.start = 0;
    this.end = length;
    this.xor = 0;
    this.ascii = true;
    this.hasControl = false;
    for (let at = 0; at < length; at++) {
      const byte = plain[at]!;
      this.xor ^= byte;
      if (byte < 32 ? byte !== TAB : byte > 126) this.ascii = false;
      if (byte < 32 && byte !== TAB) this.hasControl = true;
    }
  }

  #startLine(): void {
    this.#carried = 0;
    this.#length = 0;
    this.#returns = 0;
    this.#returnsAtEnd = 0;
    this.#xor = 0;
    this.#ascii = true;
    this.#hasControl = false;
  }

  #keep(chunk: Uint8Array, from: number, to: number): void {
    const free = this.#carry.length - this.#carried;
    const count = Math.min(free, to - from);
    if (count <= 0) return;
    this.#carry.set(chunk.subarray(from, from + count), this.#carried);
    this.#carried += count;
  }
}

const EMPTY = new Uint8Array(0);
const NO_VIEW = new DataView(EMPTY.buffer);

/** Whether all four bytes are from 32 to 126: a lower one has neither of two bits, a higher one carries into the top bit. */
function allPrintable(word: number): boolean {
  const noneAbove = ((word | (word + 0x01010101)) & 0x80808080) === 0;
  return noneAbove && ((word | (word >> 1)) & 0x20202020) === 0x20202020;
}

/** Number of carriage returns at the end of the bytes so far; a terminal driver may send more than one. */
function trailingReturns(chunk: Uint8Array, from: number, to: number, before: number): number {
  let at = to;
  while (at > from && chunk[at - 1] === CR) at--;
  return at === from ? before + (to - from) : to - at;
}
