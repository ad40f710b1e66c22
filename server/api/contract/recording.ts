import { type Static, Type } from 'typebox';
import { routes } from './route-table.ts';
import { given, int, list, named, num, numOrNull, oneOf, orNull, text, yes } from './schema.ts';

/** A log of several days at 50 lines a second. */
export const LOG_BYTES_MAX = 2 ** 31;
export const LOG_TYPES = ['text/plain', 'application/octet-stream'] as const;
const NAME_MAX = 120;
/** Before it no such log was recorded. */
const START_MS_MIN = Date.UTC(2000, 0, 1);

export const RecordingView = named(
  'Recording',
  {
    name: text(),
    bytes: num(),
    lines: num(),
    survey: Type.Object({
      shape: text(),
      clock: orNull(oneOf(['device', 'stamps'])),
      stamped: yes(),
      channels: list(text()),
      rateHz: numOrNull(),
      spanMs: numOrNull(),
      startMs: numOrNull(),
      startFrom: orNull(oneOf(['stamps', 'note'])),
      firstLine: text(),
    }),
    changedMs: numOrNull(),
    phase: oneOf(['ready', 'replaying', 'importing', 'done', 'failed']),
    progress: Type.Object({ share: num(), readings: num() }),
    runs: list(int()),
    problem: orNull(Type.Object({ title: text(), detail: text() })),
  },
  'A log of reading lines that is to become runs, and how far that is.',
);
export type RecordingView = Static<typeof RecordingView>;

/** A recorded log of reading lines becomes a run, beside the line that is being watched. */
export const recording = routes({
  'POST /api/recording': {
    operationId: 'uploadLog',
    tag: 'runs',
    summary: 'Upload a recorded log of reading lines',
    description: 'The body is the bytes of the log. Answers what was found in it.',
    query: given({
      name: Type.Optional(text({ minLength: 1, maxLength: NAME_MAX, description: 'Name of the file' })),
      changedMs: Type.Optional(
        num({ description: 'When the file was last changed, UTC ms: about when the recording ended' }),
      ),
    }),
    consumes: LOG_TYPES,
    bodyBytesMax: LOG_BYTES_MAX,
    answers: { 201: RecordingView },
  },
  'GET /api/recording': {
    operationId: 'getLog',
    tag: 'runs',
    summary: 'The log that was uploaded last',
    description: 'And how far it is; null = none.',
    answers: { 200: orNull(RecordingView) },
  },
  'POST /api/recording/start': {
    operationId: 'judgeLog',
    tag: 'runs',
    summary: 'Turn the uploaded log into runs',
    description: 'Judges it as if it came over the cable. Nobody is notified.',
    body: given({
      startMs: num({
        minimum: START_MS_MIN,
        description: 'When the recording began, UTC ms; not before the year 2000, not after tomorrow',
      }),
      rateHz: Type.Optional(
        orNull(num({ minimum: 0.1, maximum: 1000 }), 'Lines a second, where the lines carry no time'),
      ),
    }),
    answers: { 200: orNull(RecordingView) },
  },
  'DELETE /api/recording': {
    operationId: 'dropLog',
    tag: 'runs',
    summary: 'Stop, and forget the uploaded log',
    description: 'Runs that were made from it stay.',
    answers: { 204: null },
  },
});
