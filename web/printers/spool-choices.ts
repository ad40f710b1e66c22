import type { SpoolChoicesView } from '../../server/api/contract/runs-and-spools.ts';
import { call } from '../service/call.ts';

/**
 * Chooses the printer that a spool is judged for, or how it is cut. The service stores it with the spool, so that every page
 * and device shows the same. @throws ServiceProblem
 */
export function chooseForSpool(spoolId: number, change: Partial<SpoolChoicesView>): Promise<SpoolChoicesView> {
  return call('PUT /api/spools/:id/choices', { params: { id: spoolId }, body: change });
}
