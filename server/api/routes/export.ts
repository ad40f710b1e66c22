import { Readable } from 'node:stream';
import type { FastifyReply } from 'fastify';
import { runName } from '../../entities/run.ts';
import type { SampleColumnsReader, SampleReader } from '../../monitor/ports/samples.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { strandOn } from '../../monitor/spool/wound-spool.ts';
import { BYTES_ABOUT, type ExportFormat } from '../contract/exports.ts';
import { Downloads } from '../export/downloads.ts';
import { exportRun } from '../export/export-run.ts';
import { exportSpool } from '../export/export-spool.ts';
import type { Sized } from '../export/sized.ts';
import { type Api, serve } from '../serve.ts';

const MEDIA_TYPES: Readonly<Record<ExportFormat, string>> = {
  csv: 'text/csv; charset=utf-8; header=present',
  jsonl: 'application/jsonl; charset=utf-8',
  parquet: 'application/vnd.apache.parquet',
};

export interface ExportParts {
  readonly spools: SpoolRepository;
  readonly samples: SampleReader & SampleColumnsReader;
}

/** The readings of a spool or a run as files for other programs. */
export function exportRoutes(api: Api, { spools, samples }: ExportParts): void {
  const downloads = new Downloads();

  serve(api, 'GET /api/spools/:id/export', async ({ params, query: { format } }, reply) => {
    const woundSpool = spools.wound(params.id);
    const { run, name, endGaugeMm } = woundSpool;
    const range = { ...strandOn(woundSpool), name, runId: run.id, endGaugeMm };
    return file(reply, name, format, await downloads.start(() => exportSpool(samples, range, format)));
  });

  serve(api, 'GET /api/runs/:id/export', async ({ params, query: { format } }, reply) => {
    const run = spools.run(params.id);
    const { id } = run;
    // Refuse a run without its single readings before the download starts.
    await samples.piece(id, 0, 1, []);
    return file(reply, runName(run), format, await downloads.start(() => exportRun(samples, id, format)));
  });
}

function file(reply: FastifyReply, name: string, format: ExportFormat, { bytesAbout, bytes }: Sized): Readable {
  reply
    .type(MEDIA_TYPES[format])
    .header('content-disposition', `attachment; filename="${name}.${format}"`)
    .header(BYTES_ABOUT, bytesAbout);
  return Readable.from(bytes, { objectMode: false });
}
