import { Type } from 'typebox';
import { WINDOW_TYPE } from '../../monitor/window-bytes.ts';
import { Problem } from '../../problem/problem.ts';
import { LotInput, ProblemView, RunDetail, RunView, WindowView } from '../contract.ts';
import { type Api, By, DEFAULT_WHO, IdParam, type RouteContext } from './context.ts';

const COLUMNS_MAX = 4000;

/** Runs of the past and the present, and windows of their readings. */
export function runRoutes(api: Api, context: RouteContext): void {
  const { views, book, samples, keeper, clock, monitor } = context;

  api.get(
    '/api/runs',
    {
      schema: {
        tags: ['runs'],
        summary: 'All runs, newest first',
        response: { 200: Type.Array(RunView), default: ProblemView },
      },
    },
    () => views.runs(),
  );

  api.get(
    '/api/runs/:id',
    {
      schema: {
        tags: ['runs'],
        summary: 'One run with its spools, sections, alarms and log',
        params: IdParam,
        response: { 200: RunDetail, default: ProblemView },
      },
    },
    (request) => views.run(request.params.id),
  );

  api.get(
    '/api/runs/:id/window',
    {
      schema: {
        tags: ['runs'],
        summary: 'Readings of a run in equal columns of time (UTC ms) or gauge length (mm), with true extremes',
        params: IdParam,
        querystring: Type.Object(
          {
            axis: Type.Unsafe<'time' | 'length'>({
              type: 'string',
              enum: ['time', 'length'],
            }),
            from: Type.Number(),
            to: Type.Number(),
            columns: Type.Integer({
              minimum: 1,
              maximum: COLUMNS_MAX,
              default: 800,
            }),
            channels: Type.String({
              minLength: 1,
              maxLength: 1000,
              description: 'Names, separated by commas: d,t1,s1',
            }),
            spread: Type.Boolean({ default: false, description: 'Standard deviations too' }),
          },
          { additionalProperties: false },
        ),
        produces: ['application/json', WINDOW_TYPE],
        response: { 200: WindowView, default: ProblemView },
      },
    },
    async (request, reply) => {
      const { axis, from, to, columns, channels, spread } = request.query;
      const run = book.run(request.params.id);
      if (!(to > from)) {
        throw new Problem(
          'bad-request',
          `The window ends (${to}) before it begins (${from}).`,
          'Give “to” above “from”.',
        );
      }
      const names = channels
        .split(',')
        .map((name) => name.trim())
        .filter((name) => name !== '');
      const query = { runId: run.id, axis, from, to, columns, channels: names, spread };
      if (request.headers.accept?.includes(WINDOW_TYPE) !== true) return (await samples.window(query)) as WindowView;
      const pack = request.headers['accept-encoding']?.includes('gzip') === true;
      const { bytes, gzipped } = await samples.windowBytes(query, pack);
      reply.type(WINDOW_TYPE).header('vary', 'accept, accept-encoding');
      if (gzipped) reply.header('content-encoding', 'gzip');
      return reply.send(bytes as never);
    },
  );

  api.put(
    '/api/runs/:id/note',
    {
      schema: {
        tags: ['runs'],
        summary: 'Write the note of a run',
        params: IdParam,
        body: Type.Object({ note: Type.String({ maxLength: 5000 }), by: By }, { additionalProperties: false }),
        response: { 200: RunView, default: ProblemView },
      },
    },
    async (request) => {
      const run = book.run(request.params.id);
      keeper.setRunNote(run.id, request.body.note);
      keeper.log({
        timeMs: clock(),
        runId: run.id,
        who: request.body.by ?? DEFAULT_WHO,
        what: `Wrote the note of run ${run.id}.`,
      });
      return (await views.run(run.id)).run;
    },
  );

  api.put(
    '/api/runs/:id/lot',
    {
      schema: {
        tags: ['runs'],
        summary: 'Say what the run was fed with and how that was prepared; earlier words stay in the record',
        params: IdParam,
        body: LotInput,
        response: { 200: RunView, default: ProblemView },
      },
    },
    async (request) => {
      const run = book.run(request.params.id);
      const name = request.body.name.trim();
      const preparation = request.body.preparation?.trim() ?? '';
      const lot = name === '' && preparation === '' ? null : { name, preparation };
      const who = request.body.by ?? DEFAULT_WHO;
      const timeMs = clock();
      keeper.setLot(run.id, lot, timeMs, who);
      const said =
        lot === null ? 'Took back the lot' : `Named the lot “${[name, preparation].filter(Boolean).join(': ')}”`;
      keeper.log({ timeMs, runId: run.id, who, what: `${said} of run ${run.id}.` });
      monitor.wordsChanged(run.id);
      return (await views.run(run.id)).run;
    },
  );
}
