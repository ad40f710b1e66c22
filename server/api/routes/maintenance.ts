import { createReadStream, createWriteStream, statSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { pipeline as joined, Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGunzip, createGzip } from 'node:zlib';
import { runName } from '../../entities/run.ts';
import type { Clock } from '../../monitor/clock.ts';
import type { MaintenanceService } from '../../monitor/maintenance-service.ts';
import { requireFreeSpace } from '../../monitor/maintenance-service.ts';
import type { RecordMaintenance } from '../../monitor/ports/maintenance.ts';
import type { RecordWriter } from '../../monitor/ports/record.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { messageOf, Problem } from '../../problem/problem.ts';
import { refusedArchive } from '../../problem/refused-run.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import { BYTES_ABOUT } from '../contract/exports.ts';
import { ARCHIVE_BYTES_MAX, ARCHIVE_TYPE } from '../contract/record.ts';
import { type Api, serve } from '../serve.ts';

/** Unpacked bytes after which the free space is checked again. */
const CHECK_EVERY_BYTES = 2 ** 24;

export interface MaintenanceParts {
  readonly maintenance: MaintenanceService;
  /** Writes runs as archives, and reads them back. */
  readonly archives: RecordMaintenance;
  readonly spools: SpoolRepository;
  readonly writer: RecordWriter;
  readonly clock: Clock;
  settings(): LineSettings;
}

/** The record: size, backups and health, and runs exported and imported as archives. */
export function maintenanceRoutes(api: Api, parts: MaintenanceParts): void {
  const { maintenance, archives, spools, writer, clock } = parts;
  const requireSpaceFor = (bytes: number) => requireFreeSpace(bytes, archives, parts.settings());
  let underway: Promise<unknown> = Promise.resolve();
  /** Writes and imports archives one at a time, to spare the disk. A slow transfer does not block the next one. */
  function inTurn<T>(work: () => Promise<T>): Promise<T> {
    const done = underway.then(work);
    underway = done.catch(() => {});
    return done;
  }

  serve(api, 'GET /api/record', () => maintenance.state());

  serve(api, 'POST /api/record/backup', async ({ by }) => {
    await maintenance.backup(by);
    return maintenance.state();
  });

  serve(api, 'POST /api/record/check', async ({ by }) => {
    await maintenance.check(by);
    return maintenance.state();
  });

  serve(api, 'GET /api/runs/:id/archive', ({ params }, reply) => {
    const run = spools.run(params.id);
    if (run.endedMs === null) {
      throw new Problem('wrong-state', `Run ${run.id} is still in progress.`, 'Export it when it has ended.');
    }
    requireSpaceFor(archives.runBytes(run.id));
    const path = archives.scratchPath();
    reply
      .type(ARCHIVE_TYPE)
      .header('content-disposition', `attachment; filename="${runName(run)}.strandward-run"`)
      .header(BYTES_ABOUT, archives.runBytes(run.id));
    const write = () =>
      inTurn(async () => {
        // Other archives may have taken the space while this one waited.
        requireSpaceFor(archives.runBytes(run.id));
        await archives.writeArchive(run.id, path);
      });
    return Readable.from(archiveBytes(path, write), { objectMode: false });
  });

  api.addContentTypeParser(ARCHIVE_TYPE, (_request, payload, done) => done(null, payload));
  // The body is a stream, so that it is never held in memory as a whole.
  serve(api, 'POST /api/runs/import', async ({ body, headers, query, by }, reply) => {
    if (!(body instanceof Readable)) {
      throw new Problem('bad-archive', 'No archive was sent.', `Send its bytes with the content type ${ARCHIVE_TYPE}.`);
    }
    // Once in the file and once in the record.
    requireSpaceFor(2 * Number(headers['content-length'] ?? 0));
    const path = archives.scratchPath();
    const stop = new AbortController();
    reply.raw.once('close', () => stop.abort(cancelled()));
    try {
      const file = createWriteStream(path);
      await pipeline(body, createGunzip(), withinLimits(requireSpaceFor), file).catch(refuseDamaged);
      requireSpaceFor(statSync(path).size);
      const { id, alreadyHere } = await inTurn(async () =>
        query.again
          ? { id: await archives.readArchive(path, stop.signal), alreadyHere: false }
          : archives.readArchiveOnce(path, stop.signal),
      );
      if (alreadyHere) reply.code(200);
      else writer.log({ timeMs: clock(), runId: id, who: by, what: `Imported run ${id} from an archive.` });
      return { id, alreadyHere };
    } finally {
      await rm(path, { force: true });
    }
  });
}

function cancelled(): Problem {
  return new Problem('upload-stalled', 'The import was cancelled.', 'Nothing was imported. Send the archive again.');
}

function withinLimits(requireSpaceFor: (bytes: number) => void) {
  return async function* (chunks: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
    let bytes = 0;
    let checked = 0;
    for await (const chunk of chunks) {
      bytes += chunk.length;
      if (bytes > ARCHIVE_BYTES_MAX) throw new RangeError('it is too large');
      if (bytes - checked > CHECK_EVERY_BYTES) {
        requireSpaceFor(bytes);
        checked = bytes;
      }
      yield chunk;
    }
  };
}

/** Data that cannot be unpacked is not an archive; errors of the disk are passed on. */
function refuseDamaged(thrown: unknown): never {
  const code = thrown instanceof Error && 'code' in thrown ? String(thrown.code) : '';
  if (!(thrown instanceof RangeError) && !code.startsWith('Z_')) throw thrown;
  const what =
    code === ''
      ? messageOf(thrown)
      : code === 'Z_BUF_ERROR'
        ? 'it is cut short'
        : 'it is damaged, or another kind of file';
  throw refusedArchive(what, thrown);
}

/** Writes the file when the first byte is requested, and removes it at the end or when the client disconnects. */
async function* archiveBytes(path: string, write: () => Promise<void>): AsyncGenerator<Buffer> {
  try {
    await write();
    // The checksum of gzip reveals a file that changed in transit. In a pipeline an error of either stream ends both and is
    // thrown here, and a client that disconnects ends both, too.
    yield* joined(createReadStream(path), createGzip({ level: 1 }), () => {});
  } finally {
    await rm(path, { force: true });
  }
}
