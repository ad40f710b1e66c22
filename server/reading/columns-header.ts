/**
 * What the columns are called: as the settings say, else as a header line says, else `column1`, `column2`, …
 * so that they can be seen and mapped.
 */
export class ColumnsHeader {
  readonly #fixed: readonly string[];
  readonly #isKnown: (name: string) => boolean;
  readonly #namesOfCount = new Map<number, readonly string[]>();
  /** Number of columns that lines are known to have; 0 = not yet. */
  #count = 0;

  /** @param isKnown whether a name means something: a role, or mapped to one */
  constructor(fixed: readonly string[], isKnown: (name: string) => boolean) {
    this.#fixed = fixed;
    this.#isKnown = isKnown;
  }

  /**
   * Take a line that looks like a header.
   * @param checked its checksum is good
   * @param separated its columns are set apart by more than blanks, as the words of a sentence are not
   * @returns whether the names changed ('new'), are as before ('same'), or it is not believed ('none')
   */
  offer(names: readonly string[], checked: boolean, separated: boolean): 'new' | 'same' | 'none' {
    if (this.#fixed.length > 0) return 'same';
    if (new Set(names).size < names.length) return 'none';
    if (!checked && !separated && !names.some((name) => this.#isKnown(name))) return 'none';
    const known = this.#namesOfCount.get(names.length);
    if (known?.every((name, i) => name === names[i])) return 'same';
    // A name that meant something and now means nothing is a header that suffered on the cable.
    if (!checked && known?.some((name, i) => this.#isKnown(name) && !this.#isKnown(names[i]!))) return 'none';
    this.#namesOfCount.set(names.length, names);
    return 'new';
  }

  /** Lines with that number of columns are believed. */
  believe(count: number): void {
    this.#count = count;
  }

  /** Lines may come to have another number of columns. */
  forget(): void {
    this.#count = 0;
  }

  /** @returns null = lines have another number of columns, by the settings or by what came so far */
  namesFor(count: number): readonly string[] | null {
    if (this.#fixed.length > 0) return this.#fixed.length === count ? this.#fixed : null;
    const names = this.#namesOfCount.get(count);
    if (names !== undefined) return names;
    // A line with a column more or less and no header of its own is a spoilt one, however often it comes.
    if (this.#count !== 0 && this.#count !== count) return null;
    return Array.from({ length: count }, (_, i) => `column${i + 1}`);
  }
}
