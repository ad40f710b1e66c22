import { createReadStream, createWriteStream, statSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { pipeline as joined, Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGunzip, createGzip } from 'node:zlib';
import type { Clock } from '../../monitor/clock.ts';
import type { MaintenanceService } from '../../monitor/maintenance-service.ts';
import { requireFreeSpace } from '../../monitor/maintenance-service.ts';
import type { RecordMaintenance } from '../../monitor/ports/maintenance.ts';
import type { RecordWriter } from '../../monitor/ports/record.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { messageOf, Problem } from '../../problem/problem.ts';
import type { LineSettings } from '../../settings/line-settings.ts';
import { ARCHIVE_BYTES_MAX, ARCHIVE_TYPE } from '../contract/record.ts';
import { type Api, serve } from '../serve.ts';
import { comingIn } from './coming-in.ts';

/** Unpacked bytes after which the free space is looked at again. */
const LOOK_EVERY_BYTES = 2 ** 24;

export interface MaintenanceParts {
  readonly maintenance: MaintenanceService;
  /** Writes runs as archives, and reads them back. */
  readonly archives: RecordMaintenance;
  readonly spools: SpoolRepository;
  readonly writer: RecordWriter;
  readonly clock: Clock;
  settings(): LineSettings;
}

/** The record: its size, its backups, its health, and runs that leave or enter it as archives. */
export function maintenanceRoutes(api: Api, parts: MaintenanceParts): void {
  const { maintenance, archives, spools, writer, clock } = parts;
  const requireSpaceFor = (bytes: number) => requireFreeSpace(bytes, archives, parts.settings());
  let underway: Promise<unknown> = Promise.resolve();
  /** Archives are written and taken in one after another, for the disk's sake. How fast one travels holds nothing up. */
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
      throw new Problem('wrong-state', `Run ${run.id} is still going.`, 'Export it when it has ended.');
    }
    requireSpaceFor(archives.runBytes(run.id));
    const path = archives.scratchPath();
    reply.type(ARCHIVE_TYPE).header('content-disposition', `attachment; filename="R${run.id}.strandward-run"`);
    const write = () =>
      inTurn(async () => {
        // Others may have come before.
        requireSpaceFor(archives.runBytes(run.id));
        await archives.writeArchive(run.id, path);
      });
    return Readable.from(archiveBytes(path, write), { objectMode: false });
  });

  api.addContentTypeParser(ARCHIVE_TYPE, (_request, payload, done) => done(null, payload));
  // A stream, so nothing of it is held in memory.
  serve(api, 'POST /api/runs/import', async ({ body, headers, by }) => {
    if (!(body instanceof Readable)) {
      throw new Problem('bad-archive', 'No archive was sent.', `Send its bytes with the content type ${ARCHIVE_TYPE}.`);
    }
    // In the file, and once more in the record.
    requireSpaceFor(2 * Number(headers['content-length'] ?? 0));
    const path = archives.scratchPath();
    try {
      const file = createWriteStream(path);
      await pipeline(comingIn(body), createGunzip(), notTooMuch(requireSpaceFor), file).catch(notWhole);
      requireSpaceFor(statSync(path).size);
      const id = await inTurn(() => archives.readArchive(path));
      writer.log({ timeMs: clock(), runId: id, who: by, what: `Took in run ${id} from an archive.` });
      return { id };
    } finally {
      await rm(path, { force: true });
    }
  });
}

function notTooMuch(requireSpaceFor: (bytes: number) => void) {
  return async function* (chunks: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
    let bytes = 0;
    let looked = 0;
    for await (const chunk of chunks) {
      bytes += chunk.length;
      if (bytes > ARCHIVE_BYTES_MAX) throw new RangeError('it is too large');
      if (bytes - looked > LOOK_EVERY_BYTES) {
        requireSpaceFor(bytes);
        looked = bytes;
      }
      yield chunk;
    }
  };
}

/** What cannot be unpacked is no archive; what the disk refuses is another matter. */
function notWhole(thrown: unknown): never {
  const code = thrown instanceof Error && 'code' in thrown ? String(thrown.code) : '';
  if (!(thrown instanceof RangeError) && !code.startsWith('Z_')) throw thrown;
  throw new Problem(
    'bad-archive',
    `This file cannot be imported as a run: ${messageOf(thrown)}.`,
    'Choose an unchanged file that “Export the whole run” made. The record is as it was before.',
    { cause: thrown },
  );
}

/** The file is written when somebody takes the first byte, and is gone when they have, or have gone. */
async function* archiveBytes(path: string, write: () => Promise<void>): AsyncGenerator<Buffer> {
  try {
    await write();
    // Its checksum tells a file that changed on its way.
    // Joined, so that a fault of either ends both and is thrown here, and so does whoever stops asking.
    yield* joined(createReadStream(path), createGzip({ level: 1 }), () => {});
  } finally {
    await rm(path, { force: true });
  }
}
