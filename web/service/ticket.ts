import { accessKey } from './access-key.ts';
import { call } from './call.ts';

/**
 * The query that opens a path once where no header can be sent; '' where the service wants no access key. The key itself
 * never stands in an address, which histories and logs keep.
 * @throws ServiceProblem
 */
export async function ticketQuery(path: string, signal?: AbortSignal): Promise<Record<string, string>> {
  if (accessKey.peek() === '') return {};
  const { ticket } = await call('POST /api/tickets', { body: { path }, ...(signal && { signal }) });
  return { ticket };
}
