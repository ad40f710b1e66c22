import type { CutService } from '../../monitor/spool/cut-service.ts';
import type { Judgement } from '../../monitor/spool/judgement.ts';
import { requireStrand, type SpoolJudge } from '../../monitor/spool/spool-judge.ts';
import { isWinding } from '../../monitor/spool/wound-spool.ts';
import { Problem } from '../../problem/problem.ts';
import { coilVerdict } from '../../strand/verdict/coil-verdict.ts';
import { fitCaution, fitPrint } from '../../strand/verdict/print-fit.ts';
import { coilView, cutPlanView } from '../cut-plan-view.ts';
import { type Api, serve } from '../serve.ts';

export interface CutPlanParts {
  readonly judge: SpoolJudge;
  readonly cuts: CutService;
}

/** What to cut out, what was cut, the coils that result, and whether a print fits one of them. */
export function cutPlanRoutes(api: Api, { judge, cuts }: CutPlanParts): void {
  const planOf = ({ on, plan }: Judgement) => {
    requireStrand(on);
    return plan!;
  };
  const viewOf = (judged: Judgement) => cutPlanView(judged, planOf(judged));

  serve(api, 'GET /api/spools/:id/cut-plan', async ({ params }) => viewOf(await judge.judge(params.id)));

  serve(api, 'PUT /api/spools/:id/choices', ({ params, body, by }) => cuts.choose(params.id, body, by));

  serve(api, 'POST /api/spools/:id/cuts', async ({ params, body, by }) => {
    const { cutsBefore, ...cut } = body;
    return viewOf(await cuts.tick(params.id, cut, cutsBefore ?? null, by));
  });

  serve(api, 'DELETE /api/spools/:id/cuts/last', async ({ params, by }) =>
    viewOf(await cuts.takeBackLast(params.id, by)),
  );

  serve(api, 'GET /api/spools/:id/coils', async ({ params }) => {
    const judged = await judge.judge(params.id);
    const plan = planOf(judged);
    const { nominalMm } = judged.limits;
    const profile = { ...judged.limits, name: judged.printerName };
    const figures = await judge.ask(judged, 'coils', { coils: plan.coils });
    return plan.coils.map((coil, i) => {
      const { statistics, flow } = figures[i]!;
      const within = statistics?.tolerance.within ?? null;
      return {
        coil: coilView(coil, i),
        verdict: coilVerdict(plan, coil, { nominalMm, profile }, within, flow),
        statistics: statistics && {
          ...statistics,
          measuredMm: statistics.tolerance.measuredMm,
          withinTolerance: statistics.tolerance.within,
        },
        flow,
      };
    });
  });

  serve(api, 'PUT /api/spools/:id/coils/:ordinal', async ({ params: { id, ordinal }, body, by }) => {
    const { coils } = planOf(await cuts.nameCoil(id, ordinal, body.name, by));
    return coilView(coils[ordinal - 1]!, ordinal - 1);
  });

  serve(api, 'GET /api/spools/:id/print-fit', async ({ params, query: { metres, grams } }) => {
    if ((metres === undefined) === (grams === undefined)) {
      throw new Problem(
        'bad-length',
        metres === undefined ? 'How much the print needs is missing.' : 'Both metres and grams were given.',
        'Give metres or grams, one of them.',
        { pointer: metres === undefined ? '/metres' : '/grams' },
      );
    }
    const judged = await judge.judge(params.id);
    const plan = planOf(judged);
    const clean = plan.coils.filter((coil) => coil.condition === 'clean');
    const fit = fitPrint(clean, metres !== undefined ? { metres } : { grams: grams ?? 0 }, {
      diameterMm: judged.limits.nominalMm,
      densityGPerCm3: judged.on.settings.densityGPerCm3,
    });
    // What has a plan has a verdict.
    const verdict = judged.verdict!;
    const caution = fitCaution(verdict, isWinding(judged.on), clean.length < plan.coils.length);
    return { ...fit, combination: fit.together, fits: fit.coil !== null, fitness: verdict.fitness, caution };
  });
}
