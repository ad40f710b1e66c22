import type { SpoolChoicesView } from '../../server/api/contract/runs-and-spools.ts';
import { call } from '../service/call.ts';

/**
 * Choose the printer that a spool is judged for, or how it is cut. The service keeps it with the spool, so every page and
 * device answers for the same. @throws ServiceProblem
 */
export function chooseForSpool(spoolId: number, change: Partial<SpoolChoicesView>): Promise<SpoolChoicesView> {
  return call('PUT /api/spools/:id/choices', { params: { id: spoolId }, body: change });
}
