/** Fewer words may come from any text. */
const WORDS_MIN = 3;

/**
 * Names of the columns: those of the settings, else those of a header line, else `column1`, `column2`, …, so that a user
 * can see and map them.
 */
export class ColumnsHeader {
  readonly #fixed: readonly string[];
  readonly #isKnown: (name: string) => boolean;
  readonly #namesOfCount: Map<number, readonly string[]>;
  /** Number of columns of the lines accepted so far; 0 = none yet. */
  #count = 0;
  /** A header that changes some of the names: unless it is repeated, a damaged one. */
  #doubtful: readonly string[] = [];
  #isNewConnection = true;
  /** The last words with blanks between them. */
  #words: readonly string[] = [];
  /** Those that are probably a header, if the lines have as many columns. */
  #titles: readonly string[] = [];

  /**
   * @param isKnown whether a name is a role, or mapped to one
   * @param seen names of earlier headers on the same connection, by their number
   */
  constructor(
    fixed: readonly string[],
    isKnown: (name: string) => boolean,
    seen: ReadonlyMap<number, readonly string[]> = new Map(),
  ) {
    this.#namesOfCount = new Map(seen);
    this.#fixed = fixed;
    this.#isKnown = isKnown;
  }

  /**
   * Offer a line that looks like a header.
   * @param checked it carries a correct checksum
   * @param separated its columns have a separator other than blanks, unlike the words of a sentence
   * @returns 'new' = the names changed, 'same' = they did not, 'none' = the line is not accepted as a header
   */
  offer(names: readonly string[], checked: boolean, separated: boolean): 'new' | 'same' | 'none' {
    if (this.#fixed.length > 0) return 'same';
    if (new Set(names).size < names.length) return 'none';
    const before = this.#namesOfCount.get(names.length);
    if (!checked && !separated && !names.some((name) => this.#isKnown(name))) {
      if (!isSentence(names, this.#words)) this.#titles = names;
      this.#words = names;
      const isFirst = this.#titles === names && this.#count === names.length && this.#isUnnamed(names.length);
      if (!isFirst) return before?.every((name, i) => name === names[i]) ? 'same' : 'none';
    }
    if (before?.every((name, i) => name === names[i])) return 'same';
    if (!checked && before !== undefined) {
      if (this.#losesKnownName(before, names)) return 'none';
      const isRepeated = this.#doubtful.length === names.length && this.#doubtful.every((name, i) => name === names[i]);
      this.#doubtful = names;
      const isDoubtful =
        hasCommonName(before, names) && names.some((name, i) => name !== before[i] && !this.#isKnown(name));
      if (isDoubtful && !isRepeated && !this.#isNewConnection) return 'none';
    }
    this.#isNewConnection = false;
    this.#namesOfCount.set(names.length, names);
    return 'new';
  }

  /** The board may run another sketch. */
  opened(): void {
    this.#isNewConnection = true;
  }

  /** A column whose known name turned into an unknown one is a sign of a header damaged on the cable. */
  #losesKnownName(before: readonly string[], names: readonly string[]): boolean {
    return names.some((name, i) => {
      const nameBefore = before[i];
      return nameBefore !== undefined && this.#isKnown(nameBefore) && !this.#isKnown(name);
    });
  }

  /** Columns that have no names yet, of which none is mapped by its number. */
  #isUnnamed(count: number): boolean {
    if (count < WORDS_MIN || this.#namesOfCount.has(count)) return false;
    return !numbered(count).some((name) => this.#isKnown(name));
  }

  /** Names of the headers so far, by their number. */
  get seen(): ReadonlyMap<number, readonly string[]> {
    return this.#namesOfCount;
  }

  /** Lines with this number of columns are accepted. */
  acceptCount(count: number): void {
    if (this.#count === 0 && this.#titles.length === count && this.#isUnnamed(count))
      this.#namesOfCount.set(count, this.#titles);
    this.#count = count;
  }

  /** Lines may have another number of columns from now on. */
  forgetCount(): void {
    this.#count = 0;
  }

  /** @returns null = lines have another number of columns, according to the settings or to the lines so far */
  namesFor(count: number): readonly string[] | null {
    if (this.#fixed.length > 0) return this.#fixed.length === count ? this.#fixed : null;
    const names = this.#namesOfCount.get(count);
    if (names !== undefined) return names;
    // Unless a header came first, a line with a column more or less is damaged, however often it arrives.
    if (this.#count !== 0 && this.#count !== count) return null;
    return numbered(count);
  }
}

/** Words of a sentence have no underscore, and do not come again and again. */
function isSentence(words: readonly string[], before: readonly string[]): boolean {
  if (words.some((word) => word.includes('_'))) return false;
  return words.length !== before.length || words.some((word, i) => word !== before[i]);
}

/** Damage spares some names; a new sketch hardly ever has some of the old ones. */
function hasCommonName(before: readonly string[], names: readonly string[]): boolean {
  return names.some((name, i) => name === before[i]);
}

function numbered(count: number): readonly string[] {
  return Array.from({ length: count }, (_, i) => `column${i + 1}`);
}
