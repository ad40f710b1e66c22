import type { Contract, RouteKey } from '../../server/api/contract/index.ts';
import type { Call } from '../../server/api/contract/route-table.ts';

type Address<K extends RouteKey> = Pick<Call<Contract[K]>, keyof Call<Contract[K]> & ('params' | 'query')>;
/** The second argument is optional where the route needs nothing. */
export type Argument<T> = Record<never, never> extends T ? [input?: T] : [input: T];

/** The address of a route, for a link, a picture or an upload. */
export function addressOf<K extends RouteKey>(key: K, ...[input]: Argument<Address<K>>): string {
  const { params, query } = (input ?? {}) as Untyped;
  return filledIn(key.slice(key.indexOf(' ') + 1), params, query);
}

export interface Untyped {
  readonly params?: Readonly<Record<string, string | number>>;
  readonly query?: Readonly<Record<string, string | number | boolean>>;
  readonly body?: unknown;
}

export function filledIn(path: string, params: Untyped['params'] = {}, query: Untyped['query'] = {}): string {
  const filled = path.replace(/:(\w+)/g, (_, name: string) => encodeURIComponent(String(params[name])));
  const pairs = Object.entries(query).map(([name, value]) => [name, String(value)]);
  return pairs.length === 0 ? filled : `${filled}?${new URLSearchParams(pairs)}`;
}
