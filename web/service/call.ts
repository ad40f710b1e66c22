import type { Contract, RouteKey } from '../../server/api/contract/index.ts';
import type { Answer, Call } from '../../server/api/contract/route-table.ts';
import { type Method, request } from './request.ts';

/** Routes that send or return a file or picture, which are called in other ways. */
type FileKey = {
  [K in RouteKey]: Contract[K] extends { readonly produces: unknown } | { readonly consumes: unknown } ? K : never;
}[RouteKey];
type JsonKey = Exclude<RouteKey, FileKey>;

type Aborted = { readonly signal?: AbortSignal };
type Address<K extends RouteKey> = Pick<Call<Contract[K]>, keyof Call<Contract[K]> & ('params' | 'query')>;
/** The second argument is optional where the route needs nothing. */
type Argument<T> = Record<never, never> extends T ? [input?: T] : [input: T];

/**
 * Calls a route of the contract: `call('PUT /api/printers/:id', { params: { id }, body })`. It does not compile unless
 * everything that the route needs is passed.
 * @throws ServiceProblem with a title and what to do; AbortError if the caller aborted `signal`
 */
export function call<K extends JsonKey>(
  key: K,
  ...[input]: Argument<Call<Contract[K]> & Aborted>
): Promise<Answer<Contract[K]>> {
  const { params, query, body, signal } = (input ?? {}) as Untyped & Aborted;
  const [method, path] = key.split(' ') as [Method, string];
  return request(method, filledIn(path, params, query), body, signal);
}

/** The address of a route, for a link, a picture or an upload. */
export function addressOf<K extends RouteKey>(key: K, ...[input]: Argument<Address<K>>): string {
  const { params, query } = (input ?? {}) as Untyped;
  return filledIn(key.slice(key.indexOf(' ') + 1), params, query);
}

interface Untyped {
  readonly params?: Readonly<Record<string, string | number>>;
  readonly query?: Readonly<Record<string, string | number | boolean>>;
  readonly body?: unknown;
}

function filledIn(path: string, params: Untyped['params'] = {}, query: Untyped['query'] = {}): string {
  const filled = path.replace(/:(\w+)/g, (_, name: string) => encodeURIComponent(String(params[name])));
  const pairs = Object.entries(query).map(([name, value]) => [name, String(value)]);
  return pairs.length === 0 ? filled : `${filled}?${new URLSearchParams(pairs)}`;
}
