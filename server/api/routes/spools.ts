import { Type } from 'typebox';
import type { SectionInJudgement } from '../../monitor/spool/section-desk.ts';
import { ProblemView, SectionInput, SectionView, SpoolDetail, SpoolView } from '../contract.ts';
import { frameOf, sectionView } from '../views.ts';
import { type Api, By, DEFAULT_WHO, IdParam, type RouteContext } from './context.ts';

const SectionParams = Type.Object({
  id: Type.Integer({ minimum: 1 }),
  section: Type.String({
    pattern: '^([mp][0-9]{1,9}|j-?[0-9]{1,12})$',
    description: 'm12 = recorded, p5 = marked by a user, j12345 = the limits of the chosen printer show it',
  }),
});

/** Does not move when the beginning of a spool does: said twice it is the same place. */
const GaugePlace = Type.Number({
  description: 'Gauge length, mm, as the line counted: startGaugeMm of the spool + place on it / lengthFactor',
});

/** A spool and what a person says about its sections. */
export function spoolRoutes(api: Api, context: RouteContext): void {
  const { views, book, desk, bounds, keeper, clock, monitor } = context;
  const viewOf = ({ section, judged }: SectionInJudgement) => sectionView(section, frameOf(judged), null);

  api.get(
    '/api/spools/:id',
    {
      schema: {
        tags: ['spools'],
        summary: 'One spool with its sections and totals',
        params: IdParam,
        response: { 200: SpoolDetail, default: ProblemView },
      },
    },
    (request) => views.spool(request.params.id),
  );

  api.put(
    '/api/spools/:id/note',
    {
      schema: {
        tags: ['spools'],
        summary: 'Write the note of a spool',
        params: IdParam,
        body: Type.Object({ note: Type.String({ maxLength: 2000 }), by: By }, { additionalProperties: false }),
        response: { 200: SpoolView, default: ProblemView },
      },
    },
    async (request) => {
      const spool = book.spool(request.params.id);
      const note = request.body.note.trim();
      keeper.setSpoolNote(spool.id, note);
      keeper.log({
        timeMs: clock(),
        runId: spool.runId,
        who: request.body.by ?? DEFAULT_WHO,
        // The log keeps what a later note writes over.
        what:
          note === '' ? `Took away the note of spool ${spool.ordinal}.` : `Noted on spool ${spool.ordinal}: “${note}”`,
      });
      monitor.wordsChanged(spool.runId);
      return (await views.spool(spool.id)).spool;
    },
  );

  api.post(
    '/api/spools/:id/beginning',
    {
      schema: {
        tags: ['spools'],
        summary: 'Put right where a spool begins: later, or earlier on strand that passed before it',
        params: IdParam,
        body: Type.Object({ startGaugeMm: GaugePlace, by: By }, { additionalProperties: false }),
        response: { 200: SpoolView, default: ProblemView },
      },
    },
    async (request) => {
      const { startGaugeMm, by } = request.body;
      const { id } = await bounds.begins(request.params.id, startGaugeMm, by ?? DEFAULT_WHO);
      return (await views.spool(id)).spool;
    },
  );

  api.post(
    '/api/spools/:id/changed',
    {
      schema: {
        tags: ['spools'],
        summary: 'Say afterwards that the last spool of a run was changed: what lies behind that place is the next one',
        params: IdParam,
        body: Type.Object({ atGaugeMm: GaugePlace, by: By }, { additionalProperties: false }),
        response: { 201: SpoolView, default: ProblemView },
      },
    },
    async (request, reply) => {
      const { atGaugeMm, by } = request.body;
      const { id } = await bounds.wasChanged(request.params.id, atGaugeMm, by ?? DEFAULT_WHO);
      reply.code(201);
      return (await views.spool(id)).spool;
    },
  );

  api.post(
    '/api/spools/:id/sections',
    {
      schema: {
        tags: ['spools'],
        summary: 'Mark a stretch',
        params: IdParam,
        body: SectionInput,
        response: { 201: SectionView, default: ProblemView },
      },
    },
    async (request, reply) => {
      const added = await desk.add(request.params.id, { note: '', ...request.body }, DEFAULT_WHO);
      reply.code(201);
      return viewOf(added);
    },
  );

  api.put(
    '/api/spools/:id/sections/:section',
    {
      schema: {
        tags: ['spools'],
        summary: 'Adjust a stretch, measured or marked',
        params: SectionParams,
        body: SectionInput,
        response: { 200: SectionView, default: ProblemView },
      },
    },
    async (request) => {
      const { id, section } = request.params;
      return viewOf(await desk.adjust(id, section, { note: '', ...request.body }, DEFAULT_WHO));
    },
  );

  api.delete(
    '/api/spools/:id/sections/:section',
    {
      schema: {
        tags: ['spools'],
        summary: 'Dismiss a measured stretch, or take a marked one away',
        params: SectionParams,
        response: { 204: Type.Null(), default: ProblemView },
      },
    },
    async (request, reply) => {
      await desk.remove(request.params.id, request.params.section, DEFAULT_WHO);
      reply.code(204);
      return null;
    },
  );

  api.post(
    '/api/spools/:id/sections/:section/restore',
    {
      schema: {
        tags: ['spools'],
        summary: 'Undo what a person said: the stretch counts again as it was',
        params: SectionParams,
        response: { 200: SectionView, default: ProblemView },
      },
    },
    async (request) => {
      const { id, section } = request.params;
      return viewOf(await desk.restore(id, section, DEFAULT_WHO));
    },
  );
}
