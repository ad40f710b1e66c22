import { BIN_KEPT_MS } from '../../entities/bin.ts';
import type { BinService } from '../../monitor/bin-service.ts';
import { type Api, serve } from '../serve.ts';

/** Deleting runs and spools, and restoring them. */
export function binRoutes(api: Api, bin: BinService): void {
  serve(api, 'GET /api/bin', () => bin.all().map((one) => ({ ...one, removedMs: one.deletedMs + BIN_KEPT_MS })));
  serve(api, 'DELETE /api/runs/:id', ({ params, by }) => bin.deleteRun(params.id, by));
  serve(api, 'POST /api/runs/:id/restore', ({ params, by }) => bin.restore('run', params.id, by));
  serve(api, 'DELETE /api/spools/:id', ({ params, by }) => bin.deleteSpool(params.id, by));
  serve(api, 'POST /api/spools/:id/restore', ({ params, by }) => bin.restore('spool', params.id, by));
}
