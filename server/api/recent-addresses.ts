const ADDRESSES_MAX = 1000;

/** An IPv4 address that arrived over IPv6, in its usual form; any other as it is. */
export function plainAddress(address: string): string {
  return address.replace(/^::ffff:(?=\d+\.)/, '');
}

/** What is kept about each address of callers, within bounded memory: the one set longest ago is forgotten first. */
export class RecentAddresses<T> {
  readonly #known = new Map<string, T>();

  get(address: string): T | undefined {
    return this.#known.get(address);
  }

  set(address: string, kept: T): void {
    this.#known.delete(address);
    this.#known.set(address, kept);
    const [oldest] = this.#known.keys();
    if (this.#known.size > ADDRESSES_MAX && oldest !== undefined) this.#known.delete(oldest);
  }
}
