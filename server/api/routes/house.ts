import { createReadStream, createWriteStream, statSync } from 'node:fs';
import { rm } from 'node:fs/promises';
import { pipeline as joined, Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { createGunzip, createGzip } from 'node:zlib';
import { Type } from 'typebox';
import type { HouseState } from '../../monitor/house-desk.ts';
import { roomOnDisk } from '../../monitor/room-on-disk.ts';
import { messageOf, Problem } from '../../problem/problem.ts';
import { ProblemView } from '../contract.ts';
import { comingIn } from './coming-in.ts';
import { type Api, By, DEFAULT_WHO, IdParam, type RouteContext } from './context.ts';

const Backup = Type.Object({ path: Type.String(), timeMs: Type.Number(), bytes: Type.Number() });
const Check = Type.Object({ timeMs: Type.Number(), faults: Type.Array(Type.String()) });
const House = Type.Object(
  {
    recordBytes: Type.Number(),
    freeBytes: Type.Number(),
    backupFolder: Type.String(),
    scheduled: Type.Boolean({ description: 'Backups are made by themselves: a folder was given at start' }),
    backups: Type.Array(Backup),
    backupTrouble: Type.Union([Type.String(), Type.Null()]),
    busy: Type.Union([Type.Literal('backup'), Type.Literal('check'), Type.Null()]),
    check: Type.Union([Check, Type.Null()]),
  },
  { $id: 'House' },
);
/** A run on its way from one installation to another. */
const ARCHIVE_TYPE = 'application/vnd.strandward.run';
/** A run of several days. */
const ARCHIVE_BYTES_MAX = 2 ** 30;

/** Unpacked bytes after which the free space is looked at again. */
const LOOK_EVERY_BYTES = 2 ** 24;

const WhoBody = Type.Object({ by: By }, { additionalProperties: false });

/** The record as a thing to be kept: its size, its backups, its health. */
export function houseRoutes(api: Api, { house, archives, book, monitor, keeper, clock }: RouteContext): void {
  const state = () => plain(house.state());
  const roomFor = roomOnDisk(archives, () => monitor.settings);
  let underway: Promise<unknown> = Promise.resolve();
  /** Archives are written and taken in one after another, for the disk's sake. How fast one travels holds nothing up. */
  function inTurn<T>(work: () => Promise<T>): Promise<T> {
    const done = underway.then(work);
    underway = done.catch(() => {});
    return done;
  }

  api.get(
    '/api/record',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Size, backups and health of the record',
        response: { 200: House, default: ProblemView },
      },
    },
    state,
  );

  api.post(
    '/api/record/backup',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Make a backup now; answers when it is made and checked',
        body: WhoBody,
        response: { 200: House, default: ProblemView },
      },
    },
    async (request) => {
      await house.backup(request.body.by ?? DEFAULT_WHO);
      return state();
    },
  );

  api.post(
    '/api/record/check',
    {
      schema: {
        tags: ['set-up'],
        summary: 'Read the whole record and see whether it is sound; answers when that is done',
        body: WhoBody,
        response: { 200: House, default: ProblemView },
      },
    },
    async (request) => {
      await house.check(request.body.by ?? DEFAULT_WHO);
      return state();
    },
  );

  api.get(
    '/api/runs/:id/archive',
    {
      schema: {
        tags: ['runs'],
        summary: 'An ended run with everything on it, as one file that another Strandward takes in',
        params: IdParam,
        querystring: Type.Object({ ticket: Type.Optional(Type.String()) }),
        response: { 200: Type.Unsafe<Readable>({ type: 'string', format: 'binary' }), default: ProblemView },
      },
    },
    async (request, reply) => {
      const run = book.run(request.params.id);
      if (run.endedMs === null) {
        throw new Problem('wrong-state', `Run ${run.id} is still going.`, 'Export it when it has ended.');
      }
      roomFor(archives.runBytes(run.id));
      const path = archives.scratchPath();
      reply.type(ARCHIVE_TYPE).header('content-disposition', `attachment; filename="R${run.id}.strandward-run"`);
      const write = () =>
        inTurn(async () => {
          // Others may have come before.
          roomFor(archives.runBytes(run.id));
          await archives.writeArchive(run.id, path);
        });
      return Readable.from(archiveBytes(path, write), { objectMode: false });
    },
  );

  api.addContentTypeParser(ARCHIVE_TYPE, (_request, payload, done) => done(null, payload));
  api.post(
    '/api/runs/import',
    {
      // A stream, so nothing of it is held in memory.
      bodyLimit: ARCHIVE_BYTES_MAX,
      schema: {
        tags: ['runs'],
        summary: `Take in an archive of a run (body: its bytes, as ${ARCHIVE_TYPE}); it gets a number of its own`,
        response: { 201: Type.Object({ id: Type.Integer() }), default: ProblemView },
      },
    },
    async (request, reply) => {
      if (!(request.body instanceof Readable)) {
        throw new Problem(
          'bad-archive',
          'No archive was sent.',
          `Send its bytes with the content type ${ARCHIVE_TYPE}.`,
        );
      }
      // In the file, and once more in the record.
      roomFor(2 * Number(request.headers['content-length'] ?? 0));
      const path = archives.scratchPath();
      try {
        const file = createWriteStream(path);
        await pipeline(comingIn(request.body), createGunzip(), notTooMuch(roomFor), file).catch(notWhole);
        roomFor(statSync(path).size);
        const id = await inTurn(() => archives.readArchive(path));
        keeper.log({ timeMs: clock(), runId: id, who: DEFAULT_WHO, what: `Took in run ${id} from an archive.` });
        reply.code(201);
        return { id };
      } finally {
        await rm(path, { force: true });
      }
    },
  );
}

function notTooMuch(roomFor: (bytes: number) => void) {
  return async function* (chunks: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
    let bytes = 0;
    let looked = 0;
    for await (const chunk of chunks) {
      bytes += chunk.length;
      if (bytes > ARCHIVE_BYTES_MAX) throw new RangeError('it is too large');
      if (bytes - looked > LOOK_EVERY_BYTES) {
        roomFor(bytes);
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
    `This is no archive of a run that could be taken in: ${messageOf(thrown)}.`,
    'Give a file that “Export the whole run” made, unchanged. The record is as it was.',
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

function plain({ backups, check, ...rest }: HouseState) {
  return { ...rest, backups: [...backups], check: check && { ...check, faults: [...check.faults] } };
}
