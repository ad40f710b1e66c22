import type { Clock } from '../../monitor/clock.ts';
import type { RecordWriter } from '../../monitor/ports/record.ts';
import type { SampleReader } from '../../monitor/ports/samples.ts';
import { WINDOW_TYPE } from '../../monitor/ports/window-bytes.ts';
import type { LotService } from '../../monitor/run/lot-service.ts';
import type { RelatedService } from '../../monitor/run/related-service.ts';
import type { RunDateService } from '../../monitor/run/run-date-service.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { checkedValues } from '../../preparation/fields.ts';
import { Problem, within } from '../../problem/problem.ts';
import type { RecordViews } from '../record-views.ts';
import { type Api, serve } from '../serve.ts';

export interface RunParts {
  readonly views: RecordViews;
  readonly spools: SpoolRepository;
  readonly samples: SampleReader;
  readonly writer: RecordWriter;
  readonly lots: LotService;
  readonly runDates: RunDateService;
  readonly related: RelatedService;
  readonly clock: Clock;
}

/** Past and present runs, and windows of their readings. */
export function runRoutes(
  api: Api,
  { views, spools, samples, writer, lots, runDates, related, clock }: RunParts,
): void {
  serve(api, 'GET /api/runs', ({ query }) => views.runs(query.newest));

  serve(api, 'GET /api/runs/:id', ({ params }) => views.run(params.id));

  serve(api, 'GET /api/runs/:id/related', ({ params }) => related.of(spools.run(params.id)));

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

  serve(api, 'PUT /api/runs/:id/title', async ({ params, body, by }) => {
    const run = spools.run(params.id);
    const title = body.title.trim();
    writer.setRunTitle(run.id, title);
    const what = title === '' ? `Removed the name of run ${run.id}.` : `Named run ${run.id} “${title}”.`;
    writer.log({ timeMs: clock(), runId: run.id, who: by, what });
    return (await views.run(run.id)).run;
  });

  serve(api, 'PUT /api/runs/:id/test', async ({ params, body, by }) => {
    const run = spools.run(params.id);
    writer.setRunTest(run.id, body.isTest);
    const what = body.isTest ? `Marked run ${run.id} as a test.` : `Run ${run.id} is no longer a test.`;
    writer.log({ timeMs: clock(), runId: run.id, who: by, what });
    return (await views.run(run.id)).run;
  });

  serve(api, 'PUT /api/runs/:id/date', async ({ params, body, by }) => {
    if (body.use === 'corrected') await runDates.useCorrectedDate(params.id, by);
    else await runDates.useOriginalDate(params.id, by);
    return runDates.datesOf(spools.run(params.id));
  });

  serve(api, 'GET /api/lots', () => lots.all());

  serve(api, 'POST /api/lots', ({ body, by }) => lots.change(body, by));

  serve(api, 'PUT /api/runs/:id/lot', async ({ params, body, by }) => {
    const run = spools.run(params.id);
    const name = body.name.trim();
    const preparation = body.preparation?.trim() ?? '';
    const given = body.values;
    const values = given === undefined ? null : within('/values', () => checkedValues(given));
    const isEmpty = name === '' && preparation === '' && Object.keys(values ?? {}).length === 0;
    lots.state(run, isEmpty ? null : { name, preparation, values: values ?? run.lot?.values ?? {} }, by);
    return (await views.run(run.id)).run;
  });
}
