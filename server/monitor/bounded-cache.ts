/** Keeps the latest entries, up to a total weight. */
export class BoundedCache<T> {
  readonly #max: number;
  readonly #weightOf: (value: T) => number;
  readonly #entries = new Map<string, T>();
  #weight = 0;

  /** @param weightOf by default every entry weighs 1 */
  constructor(max: number, weightOf: (value: T) => number = () => 1) {
    this.#max = max;
    this.#weightOf = weightOf;
  }

  get(key: string): T | undefined {
    return this.#entries.get(key);
  }

  set(key: string, value: T): void {
    this.#delete(key);
    this.#entries.set(key, value);
    this.#weight += this.#weightOf(value);
    for (const oldest of this.#entries.keys()) {
      if (this.#weight <= this.#max) return;
      this.#delete(oldest);
    }
  }

  #delete(key: string): void {
    const value = this.#entries.get(key);
    if (value === undefined) return;
    this.#entries.delete(key);
    this.#weight -= this.#weightOf(value);
  }
}
