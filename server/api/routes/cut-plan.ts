import type { SpoolStatements } from '../../monitor/ports/spool-statements.ts';
import type { CutService } from '../../monitor/spool/cut-service.ts';
import type { Judgement } from '../../monitor/spool/judgement.ts';
import { requireStrand, type SpoolJudge } from '../../monitor/spool/spool-judge.ts';
import { isWinding } from '../../monitor/spool/wound-spool.ts';
import { shelved, usedBeforeCutting } from '../../monitor/stock/shelf.ts';
import { Problem } from '../../problem/problem.ts';
import { fitCaution, fitPrint, printAmountOf } from '../../strand/verdict/print-fit.ts';
import { coilDetail, coilView, cutPlanView } from '../cut-plan-view.ts';
import { cutListCsv } from '../export/cut-list-csv.ts';
import { type Api, serve } from '../serve.ts';

export interface CutPlanParts {
  readonly judge: SpoolJudge;
  readonly cuts: CutService;
  readonly statements: Pick<SpoolStatements, 'uses'>;
}

/** What to cut out, what was cut, the resulting coils, and whether a print fits one of them. */
export function cutPlanRoutes(api: Api, { judge, cuts, statements }: CutPlanParts): void {
  /** @throws Problem `wrong-state` if the spool is empty */
  const cutListOf = ({ woundSpool, plan, verdict }: Judgement) => {
    requireStrand(woundSpool);
    if (plan === null || verdict === null)
      throw new TypeError(`Spool ${woundSpool.name} was judged without a cut list.`);
    return { plan, verdict };
  };
  const viewOf = (judged: Judgement) => {
    const { plan } = cutListOf(judged);
    const uses = statements.uses(judged.woundSpool.spool.id);
    const used = uses.length === 0 ? [] : usedBeforeCutting(shelved(judged, uses));
    return cutPlanView({ ...judged, warnings: [...used, ...judged.warnings] }, plan);
  };

  serve(api, 'GET /api/spools/:id/cut-plan', async ({ params }) => viewOf(await judge.judge(params.id)));

  serve(api, 'GET /api/spools/:id/cut-plan/csv', async ({ params }, reply) => {
    const judged = await judge.judge(params.id);
    const { plan } = cutListOf(judged);
    reply.type('text/csv; charset=utf-8; header=present');
    reply.header('content-disposition', `attachment; filename="${judged.woundSpool.code} cut list.csv"`);
    return Buffer.from(cutListCsv(plan));
  });

  serve(api, 'PUT /api/spools/:id/choices', ({ params, body, by }) => cuts.choose(params.id, body, by));

  serve(api, 'POST /api/spools/:id/cuts', async ({ params, body, by }) => {
    const { cutsBefore, ...cut } = body;
    return viewOf(await cuts.tick(params.id, [cut], cutsBefore ?? null, by));
  });

  serve(api, 'POST /api/spools/:id/cuts/several', async ({ params, body: { pieces, cutsBefore }, by }) =>
    viewOf(await cuts.tick(params.id, pieces, cutsBefore ?? null, by)),
  );

  serve(api, 'PUT /api/spools/:id/cuts/last', async ({ params, body: { pieces, cutsBefore }, by }) =>
    viewOf(await cuts.replaceLast(params.id, pieces, cutsBefore ?? null, by)),
  );

  serve(api, 'DELETE /api/spools/:id/cuts/last', async ({ params, query: { cutsBefore }, by }) =>
    viewOf(await cuts.takeBackLast(params.id, cutsBefore ?? null, by)),
  );

  serve(api, 'GET /api/spools/:id/coils', async ({ params }) => {
    const judged = await judge.judge(params.id);
    const { plan } = cutListOf(judged);
    const figures = await judge.ask(judged, 'coils', { coils: plan.coils });
    return plan.coils.map((coil, i) => coilDetail(judged, plan, coil, i, figures[i] ?? {}));
  });

  serve(api, 'PUT /api/spools/:id/coils/:ordinal', async ({ params: { id, ordinal }, body, by }) => {
    const judged = await cuts.nameCoil(id, ordinal, body.name, by);
    const { plan } = cutListOf(judged);
    const coil = plan.coils[ordinal - 1];
    if (coil === undefined) throw new Problem('unknown-coil', `The cut list has no coil ${ordinal}.`, 'Load it again.');
    return coilView(judged.woundSpool.code, coil, ordinal - 1);
  });

  serve(api, 'GET /api/spools/:id/print-fit', async ({ params, query: { metres, grams } }) => {
    const print = printAmountOf(metres, grams);
    const judged = await judge.judge(params.id);
    const { plan, verdict } = cutListOf(judged);
    const clean = plan.coils.filter((coil) => coil.condition === 'clean');
    const fit = fitPrint(clean, print, {
      diameterMm: judged.limits.nominalMm,
      densityGPerCm3: judged.woundSpool.settings.densityGPerCm3,
    });
    const caution = fitCaution(verdict, isWinding(judged.woundSpool), clean.length < plan.coils.length);
    return { ...fit, combination: fit.together, fits: fit.coil !== null, fitness: verdict.fitness, caution };
  });
}
