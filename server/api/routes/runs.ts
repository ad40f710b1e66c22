import type { Clock } from '../../monitor/clock.ts';
import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { RecordWriter } from '../../monitor/ports/record.ts';
import type { SampleReader } from '../../monitor/ports/samples.ts';
import { WINDOW_TYPE } from '../../monitor/ports/window-bytes.ts';
import type { RunDateService } from '../../monitor/run-date-service.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { Problem } from '../../problem/problem.ts';
import type { RecordViews } from '../record-views.ts';
import { type Api, serve } from '../serve.ts';

export interface RunParts {
  readonly views: RecordViews;
  readonly spools: SpoolRepository;
  readonly samples: SampleReader;
  readonly writer: RecordWriter;
  readonly monitor: LineMonitor;
  readonly runDates: RunDateService;
  readonly clock: Clock;
}

/** Past and present runs, and windows of their readings. */
export function runRoutes(api: Api, { views, spools, samples, writer, monitor, runDates, clock }: RunParts): void {
  serve(api, 'GET /api/runs', () => views.runs());

  serve(api, 'GET /api/runs/:id', ({ params }) => views.run(params.id));

  serve(api, 'GET /api/runs/:id/window', async ({ params, query, headers }, reply) => {
    const { from, to, signals: names, ...rest } = query;
    const run = spools.run(params.id);
    if (!(to > from)) {
      throw new Problem(
        'bad-window',
        `The window would end (${to}) before it starts (${from}).`,
        'Give a “to” that is greater than “from”.',
        { pointer: '/to' },
      );
    }
    const signals = names
      .split(',')
      .map((name) => name.trim())
      .filter((name) => name !== '');
    const question = { runId: run.id, from, to, signals, ...rest };
    if (headers.accept?.includes(WINDOW_TYPE) !== true) return samples.window(question);
    const pack = headers['accept-encoding']?.includes('gzip') === true;
    const { bytes, gzipped } = await samples.windowBytes(question, pack);
    reply.type(WINDOW_TYPE).header('vary', 'accept, accept-encoding');
    if (gzipped) reply.header('content-encoding', 'gzip');
    return Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  });

  serve(api, 'PUT /api/runs/:id/note', async ({ params, body, by }) => {
    const run = spools.run(params.id);
    writer.setRunNote(run.id, body.note);
    writer.log({ timeMs: clock(), runId: run.id, who: by, what: `Wrote the note of run ${run.id}.` });
    return (await views.run(run.id)).run;
  });

  serve(api, 'PUT /api/runs/:id/date', async ({ params, body, by }) => {
    if (body.use === 'corrected') await runDates.useCorrectedDate(params.id, by);
    else await runDates.useOriginalDate(params.id, by);
    return runDates.datesOf(spools.run(params.id));
  });

  serve(api, 'PUT /api/runs/:id/lot', async ({ params, body, by }) => {
    const run = spools.run(params.id);
    const name = body.name.trim();
    const preparation = body.preparation?.trim() ?? '';
    const lot = name === '' && preparation === '' ? null : { name, preparation };
    const timeMs = clock();
    writer.setLot(run.id, lot, timeMs, by);
    const what =
      lot === null
        ? `Removed the material of run ${run.id}.`
        : `Entered the material of run ${run.id}: “${[name, preparation].filter(Boolean).join(': ')}”.`;
    writer.log({ timeMs, runId: run.id, who: by, what });
    monitor.notesChanged(run.id);
    return (await views.run(run.id)).run;
  });
}
