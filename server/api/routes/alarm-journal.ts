import { Readable } from 'node:stream';
import { Type } from 'typebox';
import { alarmFigures } from '../../alarm/alarm-figures.ts';
import { Problem } from '../../problem/problem.ts';
import { AlarmFiguresView, alarmFiguresView } from '../alarm-contract.ts';
import { ProblemView } from '../contract.ts';
import { exportJournal, JOURNAL_FORMATS, type JournalFormat } from '../export/export-journal.ts';
import { type Api, IdParam, type RouteContext } from './context.ts';

const Format = Type.Unsafe<JournalFormat>({ type: 'string', enum: [...JOURNAL_FORMATS], default: 'json' });
const MEDIA_TYPES: Readonly<Record<JournalFormat, string>> = {
  csv: 'text/csv; charset=utf-8; header=present',
  json: 'application/json; charset=utf-8',
};
const File = { 200: Type.Unsafe<Readable>({ type: 'string', format: 'binary' }), default: ProblemView };

/** Every step of every alarm's life, for other programs, and what it asked of whoever watches. */
export function alarmJournalRoutes(api: Api, context: RouteContext): void {
  const { book, reader, clock } = context;

  api.get(
    '/api/runs/:id/alarm-journal',
    {
      schema: {
        tags: ['alarms'],
        summary: 'The journal of the alarms of a run, as JSON or CSV: what, when, by whom, from where',
        params: IdParam,
        querystring: Type.Object({ format: Format }, { additionalProperties: false }),
        response: File,
      },
    },
    (request, reply) => {
      const { format } = request.query;
      const run = book.run(request.params.id);
      reply
        .type(MEDIA_TYPES[format])
        .header('content-disposition', `attachment; filename="run-${run.id}-alarms.${format}"`);
      const all = { runId: run.id, fromMs: Number.MIN_SAFE_INTEGER, toMs: Number.MAX_SAFE_INTEGER };
      return Readable.from(exportJournal(reader, all, format), { objectMode: false });
    },
  );

  api.get(
    '/api/alarm-journal',
    {
      schema: {
        tags: ['alarms'],
        summary: 'The journal of all alarms between two times, in a run or not, as JSON or CSV',
        querystring: Type.Object(
          {
            from: Type.Number({ description: 'UTC ms' }),
            to: Type.Number({ description: 'UTC ms, exclusive' }),
            format: Format,
          },
          { additionalProperties: false },
        ),
        response: File,
      },
    },
    (request, reply) => {
      const { from, to, format } = request.query;
      if (!(to > from))
        throw new Problem(
          'bad-request',
          `The journal ends (${to}) before it begins (${from}).`,
          'Give “to” above “from”.',
        );
      reply.type(MEDIA_TYPES[format]).header('content-disposition', `attachment; filename="alarms.${format}"`);
      const between = { runId: null, fromMs: from, toMs: to };
      return Readable.from(exportJournal(reader, between, format), { objectMode: false });
    },
  );

  api.get(
    '/api/runs/:id/alarm-figures',
    {
      schema: {
        tags: ['alarms'],
        summary:
          'How often a run called: rate, floods, chattering, fleeting and stale alarms, as EEMUA 191 counts them',
        params: IdParam,
        response: { 200: AlarmFiguresView, default: ProblemView },
      },
    },
    (request) => {
      const run = book.run(request.params.id);
      const journal = reader.alarmJournal(run.id);
      const toMs = run.endedMs ?? Math.max(clock(), journal.at(-1)?.timeMs ?? 0);
      return alarmFiguresView(alarmFigures(journal, run.startedMs, toMs));
    },
  );
}
