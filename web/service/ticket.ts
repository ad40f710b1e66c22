import { accessKey } from './access-key.ts';
import { call } from './call.ts';

/**
 * A query with a ticket that opens a path once where no header can be sent; empty where no access key is needed. The key
 * itself is never part of an address, because histories and logs store addresses.
 * @throws ServiceProblem
 */
export async function ticketQuery(path: string, signal?: AbortSignal): Promise<Record<string, string>> {
  if (accessKey.peek() === '') return {};
  const { ticket } = await call('POST /api/tickets', { body: { path }, ...(signal && { signal }) });
  return { ticket };
}
