import type { SpoolChoicesView } from '../../server/api/contract.ts';
import { request } from '../service/request.ts';

/**
 * Choose the printer that a spool is judged for, or how it is cut. The service keeps it with the spool, so every page and
 * device answers for the same. @throws ServiceProblem
 */
export function chooseForSpool(spoolId: number, change: Partial<SpoolChoicesView>): Promise<SpoolChoicesView> {
  return request('PUT', `/api/spools/${spoolId}/choices`, change);
}
