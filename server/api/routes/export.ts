import { Readable } from 'node:stream';
import { Type } from 'typebox';
import { ProblemView } from '../contract.ts';
import { exportRun } from '../export/export-run.ts';
import { exportSpool } from '../export/export-spool.ts';
import { EXPORT_FORMATS, type ExportFormat } from '../spool-contract.ts';
import { type Api, IdParam, type RouteContext } from './context.ts';

const MEDIA_TYPES: Readonly<Record<ExportFormat, string>> = {
  csv: 'text/csv; charset=utf-8; header=present',
  jsonl: 'application/jsonl; charset=utf-8',
  parquet: 'application/vnd.apache.parquet',
};

const Format = Type.Object(
  {
    format: Type.Unsafe<ExportFormat>({ type: 'string', enum: [...EXPORT_FORMATS], default: 'csv' }),
    ticket: Type.Optional(Type.String({ description: 'In place of the access key: see /api/tickets' })),
  },
  { additionalProperties: false },
);
const Bytes = { 200: Type.Unsafe<Readable>({ type: 'string', format: 'binary' }), default: ProblemView };

/** The readings of a spool or a run, for other programs. */
export function exportRoutes(api: Api, context: RouteContext): void {
  const { book, samples } = context;

  api.get(
    '/api/spools/:id/export',
    {
      schema: {
        tags: ['spools'],
        summary:
          'All readings of a spool as CSV, JSON lines or Parquet: time, position, every channel, units in the titles',
        params: IdParam,
        querystring: Format,
        response: Bytes,
      },
    },
    async (request, reply) => {
      const { format } = request.query;
      const { run, name, startGaugeMm, endGaugeMm, scale } = book.wound(request.params.id);
      const range = { name, runId: run.id, startGaugeMm, endGaugeMm, lengthFactor: scale.factor };
      const pieces = exportSpool(samples, range, format);
      reply.type(MEDIA_TYPES[format]).header('content-disposition', `attachment; filename="${name}.${format}"`);
      return Readable.from(pieces, { objectMode: false });
    },
  );

  api.get(
    '/api/runs/:id/export',
    {
      schema: {
        tags: ['runs'],
        summary:
          'All readings of a run, from heating up to shutting down, as CSV, JSON lines or Parquet: time, gauge length, every channel',
        params: IdParam,
        querystring: Format,
        response: Bytes,
      },
    },
    async (request, reply) => {
      const { format } = request.query;
      const { id } = book.run(request.params.id);
      // What was let go must be refused before the download begins.
      await samples.piece(id, 0, 1, []);
      reply.type(MEDIA_TYPES[format]).header('content-disposition', `attachment; filename="R${id}.${format}"`);
      return Readable.from(exportRun(samples, id, format), { objectMode: false });
    },
  );
}
