import { type Static, Type } from 'typebox';
import { routes } from './route-table.ts';
import { bool, component, input, int, list, num, numOrNull, oneOf, orNull, text } from './schema.ts';

/** A log of several days at 50 lines a second. */
export const LOG_BYTES_MAX = 2 ** 31;
export const LOG_TYPES = ['text/plain', 'application/octet-stream'] as const;
const NAME_MAX = 120;
/** Earlier start times are surely a mistake. */
const START_MS_MIN = Date.UTC(2000, 0, 1);

export const RecordingView = component(
  'Recording',
  {
    name: text(),
    bytes: num(),
    lines: num(),
    survey: Type.Object({
      shape: text(),
      clock: orNull(oneOf(['device', 'stamps'])),
      stamped: bool(),
      signals: list(text(), 'Names of the signals found'),
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
  'An uploaded log of reading lines, and the progress of importing it as runs.',
);
export type RecordingView = Static<typeof RecordingView>;

/** Imports a recorded log of reading lines as runs while the line continues to be watched. */
export const recording = routes({
  'POST /api/recording': {
    operationId: 'uploadRecordedLog',
    tag: 'runs',
    right: 'manage',
    summary: 'Upload a recorded log of reading lines',
    description: 'The body is the content of the log. Returns what was found in it.',
    query: input({
      name: Type.Optional(text({ minLength: 1, maxLength: NAME_MAX, description: 'Name of the file' })),
      changedMs: Type.Optional(
        num({ description: 'When the file was last modified, UTC ms: roughly the end of the recording' }),
      ),
    }),
    consumes: LOG_TYPES,
    bodyBytesMax: LOG_BYTES_MAX,
    answers: { 201: RecordingView },
  },
  'GET /api/recording': {
    operationId: 'getRecordedLog',
    tag: 'runs',
    right: 'watch',
    summary: 'Get the last uploaded log',
    description: 'With the progress of importing it; null = none.',
    answers: { 200: orNull(RecordingView) },
  },
  'POST /api/recording/start': {
    operationId: 'importRecordedLog',
    tag: 'runs',
    right: 'manage',
    summary: 'Import the uploaded log as runs',
    description: 'Processes it as if it came from the line now, but notifies no one.',
    body: input({
      startMs: num({
        minimum: START_MS_MIN,
        description: 'When the recording started, UTC ms; not before the year 2000, not after tomorrow',
      }),
      rateHz: Type.Optional(
        orNull(num({ minimum: 0.1, maximum: 1000 }), 'Lines per second, if the lines have no times'),
      ),
    }),
    answers: { 200: orNull(RecordingView) },
  },
  'DELETE /api/recording': {
    operationId: 'deleteRecordedLog',
    tag: 'runs',
    right: 'manage',
    summary: 'Stop the import and delete the uploaded log',
    description: 'Runs made from it are kept.',
    answers: { 204: null },
  },
});
