import type { LineForm } from './line-form.ts';

/**
 * Recognises boards that print one value per line, so that the values up to the next repetition of a name become one
 * reading. Lines with several fields are readings of their own.
 */
export class ValueLines {
  readonly #collected = new Set<LineForm>();
  #last: LineForm | null = null;
  #active = false;

  /**
   * What to do with the next accepted line.
   * @returns 'single' = it is a complete reading; 'first' = it starts a reading, and what was collected is complete;
   * 'next' = it belongs to the reading that is being collected
   */
  next(form: LineForm): 'single' | 'first' | 'next' {
    if (form.count > 1) {
      if (this.#last !== null) this.reset();
      return 'single';
    }
    if (!this.#active) {
      const isSecondName = this.#last !== null && this.#last !== form;
      this.#last = form;
      if (!isSecondName) return 'single';
      this.#active = true;
    }
    const isFirst = this.#collected.size === 0 || this.#collected.has(form);
    if (isFirst) this.#collected.clear();
    this.#collected.add(form);
    return isFirst ? 'first' : 'next';
  }

  reset(): void {
    this.#collected.clear();
    this.#last = null;
    this.#active = false;
  }
}
