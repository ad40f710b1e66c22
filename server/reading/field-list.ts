/** The most fields that a line may have. */
const FIELDS_MAX = 64;
/** The longest name, in bytes. */
export const NAME_BYTES_MAX = 40;

/**
 * The fields of one line: their values, and the position of their names in its bytes. It is allocated once; the reader
 * of each shape overwrites it for every line.
 */
export class FieldList {
  count = 0;
  /** Byte between columns; 0 in the other shapes. */
  separator = 0;
  readonly nameStart = new Int32Array(FIELDS_MAX);
  readonly nameEnd = new Int32Array(FIELDS_MAX);
  /** NaN = no value this time. */
  readonly values = new Float64Array(FIELDS_MAX);
  /** Digits after the decimal point, as in `DecimalReader.places`. */
  readonly places = new Int8Array(FIELDS_MAX);
  /** Names that are not in the line as they are, such as the path of a nested value; null = as the spans say. */
  readonly #ownNames: (string | null)[] = new Array<string | null>(FIELDS_MAX).fill(null);
  #hasOwnNames = false;

  clear(): void {
    this.count = 0;
    this.separator = 0;
    if (this.#hasOwnNames) this.#ownNames.fill(null);
    this.#hasOwnNames = false;
  }

  /**
   * @param name given if it is not in the line as it is
   * @returns false = too many fields, or the name is too long
   */
  add(nameStart: number, nameEnd: number, value: number, places: number, name: string | null = null): boolean {
    const index = this.count;
    const length = name === null ? nameEnd - nameStart : name.length;
    if (index >= FIELDS_MAX || length > NAME_BYTES_MAX) return false;
    if (name !== null) {
      this.#ownNames[index] = name;
      this.#hasOwnNames = true;
    }
    this.nameStart[index] = nameStart;
    this.nameEnd[index] = nameEnd;
    this.values[index] = value;
    this.places[index] = places;
    this.count = index + 1;
    return true;
  }

  /** Positions of the names in the bytes of the line. */
  nameSpans(): { readonly start: number; readonly end: number }[] {
    return Array.from({ length: this.count }, (_, i) => ({ start: this.nameStart[i]!, end: this.nameEnd[i]! }));
  }

  /** Whether a name is not in the line as it is: names are then compared as texts. */
  get hasOwnNames(): boolean {
    return this.#hasOwnNames;
  }

  names(bytes: Uint8Array): string[] {
    return this.nameSpans().map(({ start, end }, i) => this.#ownNames[i] ?? asciiText(bytes, start, end));
  }
}

/** Bytes as text, with a middle dot for each that is not printable ASCII. */
export function asciiText(bytes: Uint8Array, start: number, end: number): string {
  let text = '';
  for (const byte of bytes.subarray(start, end)) {
    text += byte === 9 || (byte >= 32 && byte <= 126) ? String.fromCharCode(byte) : '·';
  }
  return text;
}
