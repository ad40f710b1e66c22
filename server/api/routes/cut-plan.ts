import { Type } from 'typebox';
import type { PlanChoices, PlannedSpool } from '../../monitor/analysis/spool-analysis.ts';
import { asDoneCut } from '../../monitor/cut-desk.ts';
import { unmovedSpool } from '../../monitor/known.ts';
import type { KeptCut, Printer, Spool } from '../../monitor/ports.ts';
import { Problem } from '../../problem/problem.ts';
import type { DoneCut } from '../../strand/plan/done-cuts.ts';
import { fitPrint } from '../../strand/verdict/print-fit.ts';
import { ProblemView } from '../contract.ts';
import { coilViews, cutPlanView } from '../cut-plan-view.ts';
import { CoilDetail, CoilNameInput, CoilView, CutInput, CutPlanView, PrintFitView } from '../spool-contract.ts';
import { flowView, verdictView } from '../spool-numbers.ts';
import { round, roundOrNull } from '../views.ts';
import { type Api, DEFAULT_WHO, IdParam, type RouteContext } from './context.ts';
import { ForPrinter } from './judgement.ts';

const keepOrCut = (description: string) =>
  Type.Unsafe<'keep' | 'cut'>({ type: 'string', enum: ['keep', 'cut'], default: 'cut', description });

const Choices = {
  ...ForPrinter,
  shortestMm: Type.Optional(Type.Number({ description: 'Shortest coil worth keeping; else as set for the line' })),
  objective: Type.Unsafe<'mostLength' | 'fewestCuts'>({
    type: 'string',
    enum: ['mostLength', 'fewestCuts'],
    default: 'mostLength',
    description: 'mostLength = the most strand in coils; fewestCuts = the fewest cuts that keep 90 % of that',
  }),
  doubtful: keepOrCut('What to do with doubtful stretches'),
  unknown: keepOrCut('What to do with stretches that were never measured'),
};
const ChoicesQuery = Type.Object(Choices, { additionalProperties: false });
interface Chosen {
  readonly printer: number;
  readonly shortestMm?: number;
  readonly objective: 'mostLength' | 'fewestCuts';
  readonly doubtful: 'keep' | 'cut';
  readonly unknown: 'keep' | 'cut';
}

/** What to cut out, what was cut, the coils that result, and whether a print fits one of them. */
export function cutPlanRoutes(api: Api, context: RouteContext): void {
  const { views, analyst, printers, cuts, monitor, reader } = context;

  const choicesOf = (chosen: Chosen): PlanChoices => ({
    shortestMm: chosen.shortestMm ?? monitor.settings.shortestCoilMm,
    objective: chosen.objective,
    doubtful: chosen.doubtful,
    unknown: chosen.unknown,
  });
  const planFor = (spool: Spool, printer: Printer, chosen: Chosen, done: readonly DoneCut[]) =>
    analyst.ask(spool, printer, 'plan', { choices: choicesOf(chosen), done });
  const viewOf = (planned: PlannedSpool, spool: Spool, printer: Printer, chosen: Chosen, made: readonly KeptCut[]) =>
    cutPlanView(planned, {
      spool,
      printer,
      about: analyst.caseOf(spool, printer),
      choices: choicesOf(chosen),
      cuts: made,
      coilNames: cuts.coilNames(spool.id),
    });
  const planNow = async (spool: Spool, chosen: Chosen): Promise<CutPlanView> => {
    const printer = printers.find(chosen.printer);
    const made = cuts.cuts(spool.id);
    const planned = await planFor(spool, printer, chosen, made.map(asDoneCut));
    return viewOf(planned, spool, printer, chosen, made);
  };

  api.get(
    '/api/spools/:id/cut-plan',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'What to unwind, cut and discard, from the outer end; what was cut already is followed',
        params: IdParam,
        querystring: ChoicesQuery,
        response: { 200: CutPlanView, default: ProblemView },
      },
    },
    (request) => planNow(views.spoolOrProblem(request.params.id), request.query),
  );

  api.post(
    '/api/spools/:id/cuts',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'Tick off a step at the rewinder; answers with the plan for the rest',
        params: IdParam,
        querystring: ChoicesQuery,
        body: CutInput,
        response: { 201: CutPlanView, default: ProblemView },
      },
    },
    async (request, reply) => {
      const spool = views.spoolOrProblem(request.params.id);
      const printer = printers.find(request.query.printer);
      const { cutsBefore, ...cut } = request.body;
      const before = cuts.cuts(spool.id);
      cuts.refuse(spool, cutsBefore ?? null);
      // A cut that cannot have been made so is refused by the plan before it is kept.
      await planFor(spool, printer, request.query, [...before.map(asDoneCut), cut]);
      cuts.add(unmovedSpool(reader, spool), cut, before.length, DEFAULT_WHO);
      reply.code(201);
      return planNow(spool, request.query);
    },
  );

  api.delete(
    '/api/spools/:id/cuts/last',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'Take back the last step that was ticked off; answers with the plan',
        params: IdParam,
        querystring: ChoicesQuery,
        response: { 200: CutPlanView, default: ProblemView },
      },
    },
    (request) => {
      const spool = views.spoolOrProblem(request.params.id);
      printers.find(request.query.printer);
      cuts.takeBackLast(spool, DEFAULT_WHO);
      return planNow(spool, request.query);
    },
  );

  api.get(
    '/api/spools/:id/coils',
    {
      schema: {
        tags: ['cut plan'],
        summary: 'The coils of the plan, cut and still to cut, each with its own statistics and verdict',
        params: IdParam,
        querystring: ChoicesQuery,
        response: { 200: Type.Array(CoilDetail), default: ProblemView },
      },
    },
    async (request) => {
      const spool = views.spoolOrProblem(request.params.id);
      const printer = printers.find(request.query.printer);
      const found = await analyst.ask(spool, printer, 'coils', {
        choices: choicesOf(request.query),
        done: cuts.cuts(spool.id).map(asDoneCut),
      });
      return coilViews(found.plan, cuts.coilNames(spool.id)).map((coil, i): CoilDetail => {
        const { verdict, statistics, flow } = found.coils[i]!;
        return {
          coil,
          verdict: verdict === null ? null : verdictView(verdict),
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
        summary: 'Name a coil; an empty name gives it its usual one again',
        params: Type.Object({ id: Type.Integer({ minimum: 1 }), ordinal: Type.Integer({ minimum: 1 }) }),
        querystring: ChoicesQuery,
        body: CoilNameInput,
        response: { 200: CoilView, default: ProblemView },
      },
    },
    async (request) => {
      const { id, ordinal } = request.params;
      const spool = views.spoolOrProblem(id);
      const { coils } = await planNow(spool, request.query);
      const coil = coils[ordinal - 1];
      if (coil === undefined) {
        throw new Problem(
          'unknown-coil',
          `The plan makes ${coils.length} coils of spool ${spool.ordinal}, so there is no coil ${ordinal}.`,
          'Load the plan anew and choose one there.',
        );
      }
      const name = request.body.name.trim();
      const twin = coils.find((other) => other.ordinal !== ordinal && other.name === name);
      if (name !== '' && twin !== undefined) {
        throw new Problem('bad-request', `Coil ${twin.ordinal} is called “${name}” already.`, 'Give another name.');
      }
      cuts.nameCoil(spool, ordinal, name, DEFAULT_WHO);
      return (await planNow(spool, request.query)).coils[ordinal - 1] ?? coil;
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
          { ...Choices, metres: Type.Optional(Type.Number()), grams: Type.Optional(Type.Number()) },
          { additionalProperties: false },
        ),
        response: { 200: PrintFitView, default: ProblemView },
      },
    },
    async (request): Promise<PrintFitView> => {
      const { metres, grams, ...chosen } = request.query;
      if ((metres === undefined) === (grams === undefined)) {
        throw new Problem(
          'bad-request',
          metres === undefined ? 'It was not said how much the print needs.' : 'Metres and grams were given both.',
          'Give metres or grams, one of them.',
        );
      }
      const spool = views.spoolOrProblem(request.params.id);
      const plan = await planNow(spool, chosen);
      const { nominalMm, densityGPerCm3 } = monitor.settings;
      const offered = plan.coils.filter((coil) => coil.condition === 'clean');
      const fit = fitPrint(offered, metres !== undefined ? { metres } : { grams: grams ?? 0 }, {
        diameterMm: nominalMm,
        densityGPerCm3,
      });
      const inDoubt = offered.length < plan.coils.length;
      return {
        needMm: round(fit.needMm, 1),
        withReserveMm: round(fit.withReserveMm, 1),
        fits: fit.coil !== null,
        coil: fit.coil,
        leftOverMm: roundOrNull(fit.leftOverMm, 1),
        longEnough: [...fit.longEnough],
        together: fit.together === null ? null : [...fit.together],
        sentence: fit.sentence,
        fitness: plan.fitness,
        caution:
          plan.fitness === 'cannotBeSaid'
            ? 'Too much of the spool was never measured: what is said holds for its measured coils only.'
            : spool.endGaugeMm === null
              ? 'The spool is still being wound.'
              : inDoubt
                ? 'Coils that are spoilt or in doubt at an end were left out.'
                : null,
      };
    },
  );
}
