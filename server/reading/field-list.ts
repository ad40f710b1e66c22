/** The most fields that a line may have. */
const FIELDS_MAX = 64;
/** The longest name, in bytes. */
const NAME_BYTES_MAX = 40;

/**
 * The fields of one line: where their names lie in its bytes, and their values. Filled anew for every line by the reader
 * of its shape; allocated once.
 */
export class FieldList {
  count = 0;
  /** Byte between columns; 0 in the other shapes. */
  separator = 0;
  readonly nameStart = new Int32Array(FIELDS_MAX);
  readonly nameEnd = new Int32Array(FIELDS_MAX);
  /** NaN = no value this time. */
  readonly values = new Float64Array(FIELDS_MAX);
  /** Digits behind the point, as `DecimalReader.places` says. */
  readonly places = new Int8Array(FIELDS_MAX);

  clear(): void {
    this.count = 0;
    this.separator = 0;
  }

  /** @returns false = there are too many */
  add(nameStart: number, nameEnd: number, value: number, places: number): boolean {
    const index = this.count;
    if (index >= FIELDS_MAX || nameEnd - nameStart > NAME_BYTES_MAX) return false;
    this.nameStart[index] = nameStart;
    this.nameEnd[index] = nameEnd;
    this.values[index] = value;
    this.places[index] = places;
    this.count = index + 1;
    return true;
  }

  names(bytes: Uint8Array): string[] {
    return Array.from({ length: this.count }, (_, i) => asciiText(bytes, this.nameStart[i]!, this.nameEnd[i]!));
  }
}

/** Bytes as text; what is not printable ASCII is shown as a middle dot. */
export function asciiText(bytes: Uint8Array, start: number, end: number): string {
  let text = '';
  for (let at = start; at < end; at++) {
    const byte = bytes[at]!;
    text += byte === 9 || (byte >= 32 && byte <= 126) ? String.fromCharCode(byte) : '·';
  }
  return text;
}
