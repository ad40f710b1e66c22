import { nameText } from './line-text.ts';

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
  /** Names of the paths of this line that are too long for one. */
  readonly #shortNames = new Map<string, string>();

  clear(): void {
    this.count = 0;
    this.separator = 0;
    if (this.#hasOwnNames) this.#ownNames.fill(null);
    this.#hasOwnNames = false;
    if (this.#shortNames.size > 0) this.#shortNames.clear();
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

  /**
   * The last parts of a path that is too long for a name. Paths with the same end get a number; a path that comes twice
   * keeps its name, because that is the sign of two lines joined into one.
   */
  shortNameOf(path: string): string {
    const known = this.#shortNames.get(path);
    if (known !== undefined) return known;
    const point = path.indexOf('.', path.length - NAME_BYTES_MAX - 1);
    const end = point < 0 ? path.slice(-NAME_BYTES_MAX) : path.slice(point + 1);
    const taken = new Set(this.#shortNames.values());
    let name = end;
    for (let n = 2; taken.has(name); n++) name = `${end.slice(-(NAME_BYTES_MAX - 3))} ${n}`;
    this.#shortNames.set(path, name);
    return name;
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
    return this.nameSpans().map(({ start, end }, i) => this.#ownNames[i] ?? nameText(bytes, start, end));
  }
}
