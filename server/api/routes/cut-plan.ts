import { Type } from 'typebox';
import type { Judgement } from '../../monitor/spool/judgement.ts';
import { refuseEmpty } from '../../monitor/spool/spool-judge.ts';
import { isWinding } from '../../monitor/spool/wound-spool.ts';
import { Problem } from '../../problem/problem.ts';
import { coilVerdict } from '../../strand/verdict/coil-verdict.ts';
import { fitCaution, fitPrint } from '../../strand/verdict/print-fit.ts';
import { ProblemView, SpoolChoicesInput, SpoolChoicesView } from '../contract.ts';
import { coilView, cutPlanView } from '../cut-plan-view.ts';
import { CoilDetail, CoilNameInput, CoilView, CutInput, CutPlanView, PrintFitView } from '../spool-contract.ts';
import { flowView } from '../spool-numbers.ts';
import { round, roundOrNull, verdictView } from '../views.ts';
import { type Api, DEFAULT_WHO, IdParam, type RouteContext } from './context.ts';

/** What to cut out, what was cut, the coils that result, and whether a print fits one of them. */
export function cutPlanRoutes(api: Api, context: RouteContext): void {
  const { judge, cuts, monitor } = context;

  const planned = (judged: Judgement) => {
    const { plan, on } = judged;
    refuseEmpty(on);
    return { plan: plan!, printer: judge.printerOf(on) };
  };
  const viewOf = (judged: Judgement): CutPlanView => {
    const { plan, printer } = planned(judged);
    return cutPlanView(judged, plan, printer);
  };

  api.get(
    '/api/spools/:id/cut-plan',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'What to unwind, cut and discard, from the outer end; what was cut already is followed',
        params: IdParam,
        response: { 200: CutPlanView, default: ProblemView },
      },
    },
    async (request) => viewOf(await judge.judge(request.params.id)),
  );

  api.put(
    '/api/spools/:id/choices',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'Choose the printer that a spool is judged for, and how it is cut; what is left out stays as it is',
        params: IdParam,
        body: SpoolChoicesInput,
        response: { 200: SpoolChoicesView, default: ProblemView },
      },
    },
    async (request) => ({ ...(await cuts.choose(request.params.id, request.body, DEFAULT_WHO)) }),
  );

  api.post(
    '/api/spools/:id/cuts',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'Tick off a step at the rewinder; answers with the plan for the rest',
        params: IdParam,
        body: CutInput,
        response: { 201: CutPlanView, default: ProblemView },
      },
    },
    async (request, reply) => {
      const { cutsBefore, ...cut } = request.body;
      const judged = await cuts.tick(request.params.id, cut, cutsBefore ?? null, DEFAULT_WHO);
      reply.code(201);
      return viewOf(judged);
    },
  );

  api.delete(
    '/api/spools/:id/cuts/last',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'Take back the last step that was ticked off; answers with the plan',
        params: IdParam,
        response: { 200: CutPlanView, default: ProblemView },
      },
    },
    async (request) => viewOf(await cuts.takeBackLast(request.params.id, DEFAULT_WHO)),
  );

  api.get(
    '/api/spools/:id/coils',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'The coils of the plan, cut and still to cut, each with its own statistics and verdict',
        params: IdParam,
        response: { 200: Type.Array(CoilDetail), default: ProblemView },
      },
    },
    async (request) => {
      const judged = await judge.judge(request.params.id);
      const { plan } = planned(judged);
      const { nominalMm } = judged.limits;
      const profile = { ...judged.limits, name: judged.printerName };
      const figures = await judge.ask(judged, 'coils', { coils: plan.coils });
      return plan.coils.map((coil, i): CoilDetail => {
        const { statistics, flow } = figures[i]!;
        return {
          coil: coilView(coil, i),
          verdict: verdictView(
            coilVerdict(plan, coil, { nominalMm, profile }, statistics?.tolerance.within ?? null, flow),
          ),
          statistics:
            statistics === null
              ? null
              : {
                  measuredMm: round(statistics.tolerance.measuredMm, 1),
                  meanMm: round(statistics.meanMm, 5),
                  sdMm: roundOrNull(statistics.sdMm, 5),
                  minMm: round(statistics.minMm, 4),
                  maxMm: round(statistics.maxMm, 4),
                  withinTolerance: round(statistics.tolerance.within, 6),
                },
          flow: flowView(flow),
        };
      });
    },
  );

  api.put(
    '/api/spools/:id/coils/:ordinal',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'Name a coil: the name stays with its strand. An empty name gives it its usual one again',
        params: Type.Object({ id: Type.Integer({ minimum: 1 }), ordinal: Type.Integer({ minimum: 1 }) }),
        body: CoilNameInput,
        response: { 200: CoilView, default: ProblemView },
      },
    },
    async (request) => {
      const { id, ordinal } = request.params;
      const { plan } = planned(await cuts.nameCoil(id, ordinal, request.body.name, DEFAULT_WHO));
      return coilView(plan.coils[ordinal - 1]!, ordinal - 1);
    },
  );

  api.get(
    '/api/spools/:id/print-fit',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'Whether a print of so many metres or grams fits, and from which coil',
        params: IdParam,
        querystring: Type.Object(
          { metres: Type.Optional(Type.Number()), grams: Type.Optional(Type.Number()) },
          { additionalProperties: false },
        ),
        response: { 200: PrintFitView, default: ProblemView },
      },
    },
    async (request): Promise<PrintFitView> => {
      const { metres, grams } = request.query;
      if ((metres === undefined) === (grams === undefined)) {
        throw new Problem(
          'bad-request',
          metres === undefined ? 'It was not said how much the print needs.' : 'Metres and grams were given both.',
          'Give metres or grams, one of them.',
        );
      }
      const judged = await judge.judge(request.params.id);
      const { plan } = planned(judged);
      const { nominalMm, densityGPerCm3 } = monitor.settings;
      const clean = plan.coils.filter((coil) => coil.condition === 'clean');
      const fit = fitPrint(clean, metres !== undefined ? { metres } : { grams: grams ?? 0 }, {
        diameterMm: nominalMm,
        densityGPerCm3,
      });
      const fitness = judged.verdict?.fitness ?? 'cannotBeSaid';
      return {
        needMm: round(fit.needMm, 1),
        withReserveMm: round(fit.withReserveMm, 1),
        fits: fit.coil !== null,
        coil: fit.coil,
        leftOverMm: roundOrNull(fit.leftOverMm, 1),
        longEnough: [...fit.longEnough],
        together: fit.together === null ? null : [...fit.together],
        sentence: fit.sentence,
        fitness,
        caution: fitCaution(fitness, isWinding(judged.on), clean.length < plan.coils.length),
      };
    },
  );
}
