/** Powers of ten that a double holds exactly; a quotient of two exact doubles is correctly rounded, as Number() is. */
const POWERS_OF_TEN = Array.from({ length: 23 }, (_, exponent) => Number(`1e${exponent}`));

/** With up to 15 digits, the digits as a whole number are exact in a double. */
const EXACT_DIGITS = 15;

const NUMBER = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$/;
const GAP = /^(?:[+-]?nan|[+-]?inf|[+-]?infinity|-|null)$/i;

/** `places` of a number that is not a plain decimal: it has an exponent, or no digit before the point. */
const PLACES_OTHER = 99;
/** `places` of a gap, where there is no value. */
export const PLACES_GAP = -1;

/**
 * Reads a number or a gap (`nan`, `inf`, `-`, `null`) from bytes, with exactly the value that Number() returns.
 * The result is in its fields instead of a new object, because it reads about ten values per line.
 */
export class DecimalReader {
  /** NaN = a gap: no value this time. */
  value = Number.NaN;
  /** Digits after the decimal point; `PLACES_OTHER`, `PLACES_GAP`. */
  places = 0;

  /**
   * Read the number at `start`, up to but not including `end`.
   * @param comma accept a decimal comma as well
   * @returns the position after the number; -1 = it is not a number
   */
  read(bytes: Uint8Array, start: number, end: number, comma: boolean): number {
    let at = start;
    let byte = at < end ? bytes[at]! : 0;
    const negative = byte === 45;
    if (negative || byte === 43) byte = ++at < end ? bytes[at]! : 0;
    let whole = 0;
    const digitsFrom = at;
    while (byte >= 48 && byte <= 57) {
      whole = whole * 10 + (byte - 48);
      byte = ++at < end ? bytes[at]! : 0;
    }
    const digitsBefore = at - digitsFrom;
    let digits = digitsBefore;
    let places = 0;
    if (byte === 46 || (comma && byte === 44)) {
      byte = ++at < end ? bytes[at]! : 0;
      const placesFrom = at;
      while (byte >= 48 && byte <= 57) {
        whole = whole * 10 + (byte - 48);
        byte = ++at < end ? bytes[at]! : 0;
      }
      places = at - placesFrom;
      digits += places;
    }
    if (digits === 0 || digits > EXACT_DIGITS || isTokenByte(byte)) return this.#readSlowly(bytes, start, end, comma);
    const value = places === 0 ? whole : whole / POWERS_OF_TEN[places]!;
    this.value = negative ? -value : value;
    this.places = digitsBefore === 0 ? PLACES_OTHER : places;
    return at;
  }

  #readSlowly(bytes: Uint8Array, start: number, end: number, comma: boolean): number {
    let at = start;
    let text = '';
    while (at < end && (isTokenByte(bytes[at]!) || (comma && bytes[at] === 44))) {
      text += bytes[at] === 44 ? '.' : String.fromCharCode(bytes[at]!);
      at++;
    }
    if (NUMBER.test(text)) {
      this.value = Number(text);
      this.places = PLACES_OTHER;
      return Number.isFinite(this.value) ? at : -1;
    }
    if (!GAP.test(text)) return -1;
    this.value = Number.NaN;
    this.places = PLACES_GAP;
    return at;
  }
}

/** Letters, digits, sign and point: the characters of numbers and of the words for a gap. */
function isTokenByte(byte: number): boolean {
  return (
    (byte >= 48 && byte <= 57) ||
    (byte >= 97 && byte <= 122) ||
    (byte >= 65 && byte <= 90) ||
    byte === 46 ||
    byte === 43 ||
    byte === 45
  );
}
