const TEXTS_MAX = 16;
/** A line is lost now and then, or one more is printed. */
const GAP_WITHIN_LINES = 1;
/** The same rule may be printed several times in a block: above its title, below it, at the end. */
const TIMES_IN_BLOCK_MAX = 4;
/** A sketch prints its titles and rules from the start: a text that comes first after more lines than this is a message. */
const FIRST_WITHIN_LINES = 50;
/** More often than this out of place, after those in place were subtracted, and a text is a message. */
const MISSES_MAX = 12;

interface SeenText {
  /** It came first when the sketch was known. */
  readonly isLate: boolean;
  readonly misses: number;
  readonly line: number;
  readonly valueLines: number;
  /** How often it came since the last line with values. */
  readonly timesInRow: number;
  /** Lines since it came before; newest first. */
  readonly gaps: readonly number[];
  /** The gaps within a block, newest first, while it is regular. */
  readonly regular: readonly number[] | null;
}

/**
 * Recognises text without a value that a sketch prints beside its readings: a title, a rule of dashes, "OK". It comes from
 * the start, again word for word, after the same numbers of lines, with values between, and names no field. Damage does not.
 * A message that takes the place of readings may do so, as when a sensor fails at every second attempt, but not from the
 * start; and "OD: error" takes the place of a value.
 */
export class RepeatedText {
  readonly #seen = new Map<string, SeenText>();
  #valueLines = 0;
  /** Lines with and without values. */
  #lines = 0;

  /** A line with values was received. */
  values(): void {
    this.#valueLines++;
    this.#lines++;
  }

  /** Another sketch may print from now on, or the cable is better. A message that came late is still one. */
  opened(): void {
    this.#lines = 0;
    for (const [text, seen] of this.#seen) this.#seen.set(text, { ...seen, misses: 0 });
  }

  /** Another sketch prints. */
  forget(): void {
    this.#seen.clear();
    this.#lines = 0;
  }

  /**
   * Take a line without a value.
   * @param line its number among all that were received
   * @param fields names of the fields so far
   * @returns whether it is printed on purpose
   */
  take(text: string, line: number, fields: () => readonly string[]): boolean {
    this.#lines++;
    const before = this.#seen.get(text);
    const now = before === undefined ? this.#first(line) : this.#again(before, line);
    this.#seen.delete(text);
    this.#seen.set(text, now);
    const [oldest] = this.#seen.keys();
    if (this.#seen.size > TEXTS_MAX && oldest !== undefined) this.#seen.delete(oldest);
    return now.regular !== null && !namesOne(text, fields());
  }

  #first(line: number): SeenText {
    const isLate = this.#lines > FIRST_WITHIN_LINES;
    return { isLate, misses: 1, line, valueLines: this.#valueLines, timesInRow: 1, gaps: [], regular: null };
  }

  #again(before: SeenText, line: number): SeenText {
    const gap = line - before.line;
    const timesInRow = this.#valueLines > before.valueLines ? 1 : before.timesInRow + 1;
    const gaps = [gap, ...before.gaps].slice(0, 2 * TIMES_IN_BLOCK_MAX);
    const isMessage = before.isLate || before.misses > MISSES_MAX;
    const pattern = isMessage ? null : (goesOn(before.regular, gap) ?? block(gaps));
    const regular = pattern !== null && timesInRow <= pattern.length ? pattern : null;
    const misses = regular === null ? before.misses + 1 : Math.max(0, before.misses - 1);
    return { isLate: before.isLate, misses, line, valueLines: this.#valueLines, timesInRow, gaps, regular };
  }
}

/** The regular gaps, the newest first, if the next one is as expected; null = it is not. */
function goesOn(regular: readonly number[] | null, gap: number): readonly number[] | null {
  const expected = regular?.at(-1);
  if (regular === null || expected === undefined || Math.abs(gap - expected) > GAP_WITHIN_LINES) return null;
  return [expected, ...regular.slice(0, -1)];
}

/** The newest gaps, if those before them were the same; null = they were not. */
function block(gaps: readonly number[]): readonly number[] | null {
  for (let times = 1; 2 * times <= gaps.length; times++) {
    const newest = gaps.slice(0, times);
    if (newest.every((gap, i) => gap === gaps[times + i])) return newest;
  }
  return null;
}

function namesOne(text: string, names: readonly string[]): boolean {
  const words = wordsOf(text);
  return names.some((name) => words.includes(wordsOf(name)));
}

const wordsOf = (text: string) => ` ${text.replaceAll(/[^\p{L}\p{N}]+/gu, ' ').trim()} `;
