const STAR = 42;

/**
 * The number in the `*hh` that ends a line, as IEC 61162-1 / NMEA 0183 write their checksum (the XOR of the bytes
 * before the star); -1 = the line has none.
 */
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

/** XOR of the bytes before the `*`; a leading `$` or `!` is not counted (IEC 61162-1). */
export function checksumOf(bytes: Uint8Array, start: number, end: number, xor: number): number {
  const first = bytes[start]!;
  const lead = first === 36 || first === 33 ? first : 0;
  return xor ^ lead ^ bytes[end - 3]! ^ bytes[end - 2]! ^ bytes[end - 1]!;
}

const LINES_TO_DECIDE = 20;

/**
 * Whether lines need a checksum. With `auto`, 20 correct checksums in a row make them required. After a new connection,
 * 20 readable lines in a row without one lift that requirement, because the board may run a new sketch.
 */
export class ChecksumRule {
  readonly #alwaysRequired: boolean;
  #seen = false;
  #learnt = false;
  #correctInARow = 0;
  #newConnection = false;
  #withoutInARow = 0;

  constructor(setting: 'auto' | 'required') {
    this.#alwaysRequired = setting === 'required';
  }

  get state(): 'none' | 'optional' | 'required' {
    if (this.required) return 'required';
    return this.#seen ? 'optional' : 'none';
  }

  get required(): boolean {
    return this.#alwaysRequired || this.#learnt;
  }

  opened(): void {
    this.#newConnection = true;
    this.#withoutInARow = 0;
  }

  countCorrect(): void {
    this.#seen = true;
    this.#newConnection = false;
    if (this.#correctInARow < LINES_TO_DECIDE && ++this.#correctInARow === LINES_TO_DECIDE) this.#learnt = true;
  }

  countWrong(): void {
    this.#correctInARow = 0;
    this.#withoutInARow = 0;
  }

  /** Count a line without a checksum while none is required. */
  countWithout(): void {
    this.#correctInARow = 0;
  }

  /**
   * Count a line without a checksum while one is required.
   * @param ofNewSketch whether it is a valid line of another shape; in the same shape it may be a cut one
   * @returns whether it may be used
   */
  acceptsWithout(readable: boolean, ofNewSketch: () => boolean): boolean {
    this.#correctInARow = 0;
    if (this.#alwaysRequired) return false;
    const counts = this.#newConnection ? readable : ofNewSketch();
    this.#withoutInARow = counts ? this.#withoutInARow + 1 : 0;
    if (this.#withoutInARow < LINES_TO_DECIDE) return false;
    this.#learnt = false;
    this.#seen = false;
    return true;
  }
}
