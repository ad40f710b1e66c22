import { BoundedCache } from './bounded-cache.ts';

interface Versioned<T> {
  readonly version: string;
  readonly value: T;
}

/** Keeps one value for each key, with the version of what it was calculated from. */
export class VersionedCache<T> {
  readonly #kept: BoundedCache<Versioned<T>>;
  readonly #running = new Map<string, Promise<T>>();

  /** @param weightOf by default every entry weighs 1 */
  constructor(max: number, weightOf: (value: T) => number = () => 1) {
    this.#kept = new BoundedCache(max, ({ value }) => weightOf(value));
  }

  set(key: string, version: string, value: T): void {
    this.#kept.set(key, { version, value });
  }

  /** The value of this version. `calculate` keeps it by `set` if it is final; requests for the same version share one calculation. */
  async get(key: string, version: string, calculate: () => Promise<T>): Promise<T> {
    const kept = this.#kept.get(key);
    if (kept?.version === version) return kept.value;
    const running = `${key} ${version}`;
    const result = this.#running.get(running) ?? calculate().finally(() => this.#running.delete(running));
    this.#running.set(running, result);
    return result;
  }
}
