import { Readable } from 'node:stream';
import { lengthScaleOf } from '../../monitor/length-desk.ts';
import { nameOfSpool } from '../../monitor/spool-analyst.ts';
import { exportRun } from '../export/export-run.ts';
import { exportSpool } from '../export/export-spool.ts';
import { serve } from '../serve.ts';
import type { ExportFormat } from '../spool-contract.ts';
import type { Api, RouteContext } from './context.ts';

const MEDIA_TYPES: Readonly<Record<ExportFormat, string>> = {
  csv: 'text/csv; charset=utf-8; header=present',
  jsonl: 'application/jsonl; charset=utf-8',
  parquet: 'application/vnd.apache.parquet',
};

/** The readings of a spool or a run, for other programs. */
export function exportRoutes(api: Api, context: RouteContext): void {
  const { views, samples, lengths } = context;

  serve(api, 'GET /api/spools/:id/export', ({ params, query: { format } }, reply) => {
    const on = views.range(views.spoolOrProblem(params.id));
    const name = nameOfSpool(on.spool);
    const pieces = exportSpool(
      samples,
      {
        name,
        runId: on.spool.runId,
        startGaugeMm: on.spool.startGaugeMm,
        endGaugeMm: on.endGaugeMm,
        lengthFactor: lengthScaleOf(lengths.of(on.spool.id)).factor,
      },
      format,
    );
    reply.type(MEDIA_TYPES[format]).header('content-disposition', `attachment; filename="${name}.${format}"`);
    return Readable.from(pieces, { objectMode: false });
  });

  serve(api, 'GET /api/runs/:id/export', async ({ params, query: { format } }, reply) => {
    const { id } = views.runOrProblem(params.id);
    // Readings that were thinned out must be refused before the download begins.
    await samples.piece(id, 0, 1, []);
    reply.type(MEDIA_TYPES[format]).header('content-disposition', `attachment; filename="R${id}.${format}"`);
    return Readable.from(exportRun(samples, id, format), { objectMode: false });
  });
}
