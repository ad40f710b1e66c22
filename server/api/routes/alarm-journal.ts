import { Readable } from 'node:stream';
import { alarmFigures } from '../../alarm/alarm-figures.ts';
import type { Clock } from '../../monitor/clock.ts';
import type { RecordReader } from '../../monitor/ports/record.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { Problem } from '../../problem/problem.ts';
import { alarmLoadView } from '../alarm-views.ts';
import { exportJournal, type JournalFormat } from '../export/export-journal.ts';
import { searchJournal } from '../journal-search.ts';
import { type Api, serve } from '../serve.ts';

const MEDIA_TYPES: Readonly<Record<JournalFormat, string>> = {
  csv: 'text/csv; charset=utf-8; header=present',
  json: 'application/json; charset=utf-8',
};

export interface AlarmJournalParts {
  readonly spools: SpoolRepository;
  readonly reader: RecordReader;
  readonly clock: Clock;
}

/** The alarm journal as a file for other programs, and the alarm load of a run. */
export function alarmJournalRoutes(api: Api, { spools, reader, clock }: AlarmJournalParts): void {
  serve(api, 'GET /api/runs/:id/alarm-journal', ({ params, query }, reply) => {
    const { format } = query;
    const run = spools.run(params.id);
    reply
      .type(MEDIA_TYPES[format])
      .header('content-disposition', `attachment; filename="run-${run.id}-alarms.${format}"`);
    const all = { runId: run.id, fromMs: Number.MIN_SAFE_INTEGER, toMs: Number.MAX_SAFE_INTEGER };
    return Readable.from(exportJournal(reader, all, format), { objectMode: false });
  });

  serve(api, 'GET /api/alarm-journal', ({ query }, reply) => {
    const { from, to, format } = query;
    checkWindow(from, to);
    reply.type(MEDIA_TYPES[format]).header('content-disposition', `attachment; filename="alarms.${format}"`);
    const between = { runId: null, fromMs: from, toMs: to };
    return Readable.from(exportJournal(reader, between, format), { objectMode: false });
  });

  serve(api, 'GET /api/alarm-journal/entries', ({ query }) => {
    // Of the entries at exactly `to`, those with smaller ids are left.
    if (query.toId === undefined) checkWindow(query.from, query.to);
    return searchJournal(reader, query);
  });

  serve(api, 'GET /api/runs/:id/alarm-load', ({ params }) => {
    const run = spools.run(params.id);
    const journal = reader.alarmJournal(run.id);
    const toMs = run.endedMs ?? Math.max(clock(), journal.at(-1)?.timeMs ?? 0);
    return alarmLoadView(alarmFigures(journal, run.startedMs, toMs));
  });
}

function checkWindow(from: number, to: number): void {
  if (to > from) return;
  throw new Problem(
    'bad-window',
    `The journal would end (${to}) before it starts (${from}).`,
    'Give a “to” that is greater than “from”.',
    { pointer: '/to' },
  );
}
