/** Keeps the latest entries, up to a maximum. */
export class BoundedCache<T> {
  readonly #max: number;
  readonly #entries = new Map<string, T>();

  constructor(max: number) {
    this.#max = max;
  }

  get(key: string): T | undefined {
    return this.#entries.get(key);
  }

  set(key: string, value: T): void {
    this.#entries.delete(key);
    this.#entries.set(key, value);
    for (const oldest of this.#entries.keys()) {
      if (this.#entries.size <= this.#max) return;
      this.#entries.delete(oldest);
    }
  }
}
