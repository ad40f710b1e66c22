const TEXTS_MAX = 16;
/** A line is lost now and then, or one more is printed. */
const GAP_WITHIN_LINES = 1;

interface SeenText {
  readonly line: number;
  readonly valueLines: number;
  /** Lines since it came before; while it is regular, as they were when it became so. */
  readonly gap: number;
  readonly isRegular: boolean;
}

/**
 * Recognises text without a value that a sketch prints beside its readings: a title, a rule of dashes, "OK". It comes again
 * word for word, after the same number of lines, with values between, and names no field. Damage does not, nor does a message
 * that takes the place of a reading; "OD: error" takes the place of a value.
 */
export class RepeatedText {
  readonly #seen = new Map<string, SeenText>();
  #valueLines = 0;

  /** A line with values was received. */
  values(): void {
    this.#valueLines++;
  }

  /**
   * Take a line without a value.
   * @param line its number among all that were received
   * @param fields names of the fields so far
   * @returns whether it is printed on purpose
   */
  take(text: string, line: number, fields: () => readonly string[]): boolean {
    const before = this.#seen.get(text);
    const valueLines = this.#valueLines;
    const gap = before === undefined ? 0 : line - before.line;
    const isRegular =
      before !== undefined &&
      valueLines > before.valueLines &&
      Math.abs(gap - before.gap) <= (before.isRegular ? GAP_WITHIN_LINES : 0);
    this.#seen.delete(text);
    this.#seen.set(text, { line, valueLines, gap: isRegular ? before.gap : gap, isRegular });
    const [oldest] = this.#seen.keys();
    if (this.#seen.size > TEXTS_MAX && oldest !== undefined) this.#seen.delete(oldest);
    return isRegular && !namesOne(text, fields());
  }
}

function namesOne(text: string, names: readonly string[]): boolean {
  const words = wordsOf(text);
  return names.some((name) => words.includes(wordsOf(name)));
}

const wordsOf = (text: string) => ` ${text.replaceAll(/[^\p{L}\p{N}]+/gu, ' ').trim()} `;
