import type { Contract, RouteKey } from '../../server/api/contract/index.ts';
import type { Answer, Call } from '../../server/api/contract/route-table.ts';
import { type Argument, filledIn, type Untyped } from './address.ts';
import { type Method, request } from './request.ts';

/** Routes that send or return a file or picture, which are called in other ways. */
type FileKey = {
  [K in RouteKey]: Contract[K] extends { readonly produces: unknown } | { readonly consumes: unknown } ? K : never;
}[RouteKey];
type JsonKey = Exclude<RouteKey, FileKey>;

type Aborted = { readonly signal?: AbortSignal };

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
