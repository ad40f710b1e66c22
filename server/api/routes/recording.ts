import { createWriteStream } from 'node:fs';
import { rm } from 'node:fs/promises';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { Type } from 'typebox';
import type { RecordingState } from '../../monitor/recording-desk.ts';
import { roomOnDisk } from '../../monitor/room-on-disk.ts';
import { Problem } from '../../problem/problem.ts';
import { ProblemView } from '../contract.ts';
import { comingIn } from './coming-in.ts';
import { type Api, By, DEFAULT_WHO, type RouteContext } from './context.ts';

/** A log of several days at 50 lines a second. */
export const LOG_BYTES_MAX = 2 ** 31;
/** Bytes after which the free space is looked at again. */
const LOOK_EVERY_BYTES = 2 ** 24;
/** What is made of a log on the way: less than half of it again. */
const ON_THE_WAY = 1.5;
const NAME_MAX = 120;
/** Before it no such log was recorded. */
const START_MS_MIN = Date.UTC(2000, 0, 1);
const DAY_MS = 86_400_000;

const Survey = Type.Object({
  shape: Type.String(),
  clock: Type.Union([Type.Literal('device'), Type.Literal('stamps'), Type.Null()]),
  stamped: Type.Boolean(),
  channels: Type.Array(Type.String()),
  rateHz: Type.Union([Type.Number(), Type.Null()]),
  spanMs: Type.Union([Type.Number(), Type.Null()]),
  startMs: Type.Union([Type.Number(), Type.Null()]),
  startFrom: Type.Union([Type.Literal('stamps'), Type.Literal('note'), Type.Null()]),
  firstLine: Type.String(),
});
const Recording = Type.Object(
  {
    name: Type.String(),
    bytes: Type.Number(),
    lines: Type.Number(),
    survey: Survey,
    changedMs: Type.Union([Type.Number(), Type.Null()]),
    phase: Type.Unsafe<RecordingState['phase']>({
      type: 'string',
      enum: ['given', 'judging', 'takingIn', 'done', 'failed'],
    }),
    progress: Type.Object({ share: Type.Number(), readings: Type.Number() }),
    runs: Type.Array(Type.Integer()),
    problem: Type.Union([Type.Object({ title: Type.String(), detail: Type.String() }), Type.Null()]),
  },
  { $id: 'Recording' },
);
const Given = Type.Union([Recording, Type.Null()]);

/** A recorded log of reading lines becomes a run, beside the line that is being watched. */
export function recordingRoutes(api: Api, { recordings, archives, monitor, clock }: RouteContext): void {
  const roomFor = roomOnDisk(archives, () => monitor.settings);
  let coming = false;

  // In a scope of its own, so that other addresses go on reading their bodies as they do.
  api.addContentTypeParser(
    ['text/plain', 'application/octet-stream'],
    { bodyLimit: LOG_BYTES_MAX },
    (_request, payload, done) => done(null, payload),
  );
  api.post(
    '/api/recording',
    {
      bodyLimit: LOG_BYTES_MAX,
      schema: {
        tags: ['runs'],
        summary:
          'Give a recorded log of reading lines (body: its bytes, as text/plain); answers what it is found to be',
        querystring: Type.Object({
          name: Type.Optional(Type.String({ minLength: 1, maxLength: NAME_MAX, description: 'Name of the file' })),
          changedMs: Type.Optional(
            Type.Number({ description: 'When the file was last changed, UTC ms: about when it ended' }),
          ),
        }),
        response: { 201: Recording, default: ProblemView },
      },
    },
    async (request, reply) => {
      if (!(request.body instanceof Readable)) {
        throw new Problem('bad-log', 'No log was sent.', 'Send its bytes with the content type text/plain.');
      }
      recordings.checkFree();
      if (coming) throw new Problem('wrong-state', 'Another log is just being sent.', 'Try again in a moment.');
      roomFor(ON_THE_WAY * Number(request.headers['content-length'] ?? 0));
      coming = true;
      const path = archives.scratchPath('log');
      const count = { bytes: 0, lines: 0 };
      try {
        await pipeline(comingIn(request.body), counted(count, roomFor), createWriteStream(path));
        const { name = 'the log', changedMs = null } = request.query;
        const state = await recordings.give({ path, name, ...count, changedMs });
        reply.code(201);
        return plain(state);
      } catch (thrown) {
        await rm(path, { force: true });
        throw thrown;
      } finally {
        coming = false;
      }
    },
  );

  api.get(
    '/api/recording',
    {
      schema: {
        tags: ['runs'],
        summary: 'The log that was given last, and how far it is; null = none',
        response: { 200: Given, default: ProblemView },
      },
    },
    () => plain(recordings.state),
  );

  api.post(
    '/api/recording/begin',
    {
      schema: {
        tags: ['runs'],
        summary: 'Judge the log that was given as if it came over the cable; calls nobody',
        body: Type.Object(
          {
            startMs: Type.Number({
              minimum: START_MS_MIN,
              description: 'When it began, UTC ms; not before the year 2000, not after tomorrow',
            }),
            rateHz: Type.Optional(
              Type.Union([Type.Number({ minimum: 0.1, maximum: 1000 }), Type.Null()], {
                description: 'Lines a second, where they tell nothing of time',
              }),
            ),
            by: By,
          },
          { additionalProperties: false },
        ),
        response: { 200: Given, default: ProblemView },
      },
    },
    (request) => {
      const { startMs, rateHz = null, by = DEFAULT_WHO } = request.body;
      if (startMs > clock() + DAY_MS) {
        throw new Problem('bad-request', 'The log cannot have begun in the future.', 'Say when it was recorded.');
      }
      recordings.begin(startMs, rateHz, by);
      return plain(recordings.state);
    },
  );

  api.delete(
    '/api/recording',
    {
      schema: {
        tags: ['runs'],
        summary: 'Stop judging, and forget the log; runs that were taken in stay',
        response: { 204: Type.Null(), default: ProblemView },
      },
    },
    async (_request, reply) => {
      await recordings.drop();
      reply.code(204);
      return null;
    },
  );
}

/** Counts bytes and lines as they pass, and ends what takes too much room. */
function counted(count: { bytes: number; lines: number }, roomFor: (bytes: number) => void) {
  return async function* (chunks: AsyncIterable<Buffer>): AsyncGenerator<Buffer> {
    let looked = 0;
    for await (const chunk of chunks) {
      count.bytes += chunk.length;
      if (count.bytes > LOG_BYTES_MAX) throw tooLarge();
      if (count.bytes - looked > LOOK_EVERY_BYTES) {
        roomFor(count.bytes - looked);
        looked = count.bytes;
      }
      for (let at = chunk.indexOf(10); at >= 0; at = chunk.indexOf(10, at + 1)) count.lines++;
      yield chunk;
    }
  };
}

function tooLarge(): Problem {
  return new Problem(
    'bad-log',
    `The log is larger than ${LOG_BYTES_MAX / 2 ** 30} GB.`,
    'Cut it into parts, for example a day each: split -C 1G night.log',
  );
}

function plain(state: RecordingState): ReturnType<typeof asPlain>;
function plain(state: RecordingState | null): ReturnType<typeof asPlain> | null;
function plain(state: RecordingState | null) {
  return state === null ? null : asPlain(state);
}

function asPlain({ survey, progress, runs, problem, ...rest }: RecordingState) {
  return {
    ...rest,
    survey: { ...survey, channels: [...survey.channels] },
    progress: { ...progress },
    runs: [...runs],
    problem: problem && { ...problem },
  };
}
