import type { LineForm } from './line-form.ts';

/**
 * Recognises boards that print their values on several lines, so that the values up to the next repetition of a name become
 * one reading: one value per line, or pages of free text, whose lines come in the same order again and again. Other lines
 * with several fields are readings of their own.
 */
export class ValueLines {
  readonly #collected = new Set<LineForm>();
  #last: LineForm | null = null;
  #active = false;
  /** Different forms since one came again, and the round of forms before them. */
  #round: LineForm[] = [];
  #roundBefore: LineForm[] = [];

  /**
   * What to do with the next accepted line.
   * @returns 'single' = it is a complete reading; 'first' = it starts a reading, and what was collected is complete;
   * 'next' = it belongs to the reading that is being collected
   */
  next(form: LineForm): 'single' | 'first' | 'next' {
    if (form.count > 1 && form.shape !== 'text') {
      if (this.#last !== null) this.reset();
      return 'single';
    }
    if (!this.#active && this.#last === form && this.#round.length === 1) {
      this.#roundBefore = this.#round;
      return 'single';
    }
    if (this.#round.includes(form)) this.#endRound(form);
    this.#round.push(form);
    if (!this.#active) {
      const isSecondName = this.#last !== null && this.#last !== form && this.#last.count === 1 && form.count === 1;
      this.#last = form;
      if (!isSecondName) return 'single';
      this.#active = true;
    }
    const isFirst = this.#collected.size === 0 || this.#comesAgain(form);
    if (isFirst) this.#collected.clear();
    this.#collected.add(form);
    return isFirst ? 'first' : 'next';
  }

  #endRound(form: LineForm): void {
    const [round, before] = [this.#round, this.#roundBefore];
    this.#roundBefore = round;
    this.#round = [];
    if (round.length !== before.length || round.some((one, i) => one !== before[i])) return;
    if (round.length > 1) this.#active = true;
    else if (form.count > 1) this.#stop();
  }

  /** One line holds everything. */
  #stop(): void {
    this.#active = false;
    this.#collected.clear();
  }

  /** The same line, or another one with one of its names. */
  #comesAgain(form: LineForm): boolean {
    for (const one of this.#collected)
      if (one === form || one.names.some((name) => form.names.includes(name))) return true;
    return false;
  }

  reset(): void {
    this.#stop();
    this.#last = null;
    this.#round = [];
    this.#roundBefore = [];
  }
}
