const STAR = 42;

/** XOR of the bytes from `start` to before `end`: the checksum of IEC 61162-1 / NMEA 0183. */
export function xorOf(bytes: Uint8Array, start: number, end: number): number {
  let xor = 0;
  for (let at = start; at < end; at++) xor ^= bytes[at]!;
  return xor;
}

/** The number in the `*hh` at the end of a line; -1 = the line has none. */
export function statedChecksum(bytes: Uint8Array, start: number, end: number): number {
  if (end - start < 3 || bytes[end - 3] !== STAR) return -1;
  const high = hexDigit(bytes[end - 2]!);
  const low = hexDigit(bytes[end - 1]!);
  return high < 0 || low < 0 ? -1 : high * 16 + low;
}

function hexDigit(byte: number): number {
  if (byte >= 48 && byte <= 57) return byte - 48;
  const upper = byte & ~32;
  return upper >= 65 && upper <= 70 ? upper - 55 : -1;
}

const ROW_THAT_REQUIRES = 20;

/**
 * Whether a line needs a checksum. With `auto`, checksums become required once 20 good ones in a row were seen. After a
 * new connection 20 readable lines in a row without one lift that again: the board may have a new sketch.
 */
export class ChecksumRule {
  readonly #fixed: boolean;
  #seen = false;
  #learnt = false;
  #goodInARow = 0;
  #newConnection = false;
  #bareInARow = 0;

  constructor(setting: 'auto' | 'required') {
    this.#fixed = setting === 'required';
  }

  get state(): 'none' | 'optional' | 'required' {
    if (this.required) return 'required';
    return this.#seen ? 'optional' : 'none';
  }

  get required(): boolean {
    return this.#fixed || this.#learnt;
  }

  opened(): void {
    this.#newConnection = true;
    this.#bareInARow = 0;
  }

  good(): void {
    this.#seen = true;
    this.#newConnection = false;
    if (this.#goodInARow < ROW_THAT_REQUIRES && ++this.#goodInARow === ROW_THAT_REQUIRES) this.#learnt = true;
  }

  bad(): void {
    this.#goodInARow = 0;
    this.#bareInARow = 0;
  }

  /** A line without a checksum; true = it may be read. */
  bare(readable: boolean): boolean {
    this.#goodInARow = 0;
    if (!this.required) return true;
    if (this.#fixed || !this.#newConnection) return false;
    this.#bareInARow = readable ? this.#bareInARow + 1 : 0;
    if (this.#bareInARow < ROW_THAT_REQUIRES) return false;
    this.#learnt = false;
    this.#seen = false;
    return true;
  }
}
