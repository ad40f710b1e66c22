const ADDRESSES_MAX = 1000;

/** An IPv4 address that arrived over IPv6, in its usual form; any other as it is. */
export function plainAddress(address: string): string {
  return address.replace(/^::ffff:(?=\d+\.)/, '');
}

/**
 * What is kept about each address of callers, within bounded memory: the one set longest ago is forgotten first. The addresses of
 * an IPv6 network count as one.
 */
export class RecentAddresses<T> {
  readonly #known = new Map<string, T>();

  get(address: string): T | undefined {
    return this.#known.get(networkOf(address));
  }

  values(): Iterable<T> {
    return this.#known.values();
  }

  set(address: string, kept: T): void {
    const network = networkOf(address);
    this.#known.delete(network);
    this.#known.set(network, kept);
    const [oldest] = this.#known.keys();
    if (this.#known.size > ADDRESSES_MAX && oldest !== undefined) this.#known.delete(oldest);
  }
}

/** A household has a whole /64 of IPv6 addresses, and a device takes another whenever it likes: their first four groups count. */
export function networkOf(address: string): string {
  const plain = plainAddress(address);
  if (!plain.includes(':')) return plain;
  const [head = '', tail] = plain.split('::');
  const before = head === '' ? [] : head.split(':');
  const after = tail === undefined || tail === '' ? [] : tail.split(':');
  const zeros = tail === undefined ? [] : Array<string>(Math.max(0, 8 - before.length - after.length)).fill('0');
  return [...before, ...zeros, ...after].slice(0, 4).join(':');
}
