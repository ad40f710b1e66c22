import { isExample } from '../../entities/run.ts';
import type { RecordReader } from '../../monitor/ports/record.ts';
import type { PrinterService } from '../../monitor/printer-service.ts';
import type { Judgement } from '../../monitor/spool/judgement.ts';
import { labelledStrand, placesFromFeed } from '../../monitor/spool/labelled-strand.ts';
import type { SpoolJudge } from '../../monitor/spool/spool-judge.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { gaugeMmAt } from '../../monitor/spool/wound-spool.ts';
import { Problem } from '../../problem/problem.ts';
import type { Coil } from '../../strand/plan/coil.ts';
import type { CutPlan } from '../../strand/plan/cut-plan.ts';
import { type CoilFigures, coilDetail } from '../cut-plan-view.ts';
import { type Api, serve } from '../serve.ts';
import { limitsView } from '../views.ts';

export interface LabelParts {
  readonly reader: RecordReader;
  readonly spools: SpoolRepository;
  readonly judge: SpoolJudge;
  readonly printers: PrinterService;
  /** The address of the page as users stated it; '' = not stated. */
  pageAddress(): string;
  /** The service answers by HTTP and HTTPS on the same port. */
  readonly servesBoth: boolean;
}

/** What the codes on labels lead to. */
export function labelRoutes(api: Api, { reader, spools, judge, printers, pageAddress, servesBoth }: LabelParts): void {
  const labelled = async (code: string) => {
    const found = await labelledStrand(code, { reader, spools, judge });
    const { lot } = found.judged.woundSpool.run;
    const material = [lot?.name, lot?.preparation].filter(Boolean).join(': ');
    return { ...found, material: material === '' ? null : material };
  };

  /** @returns the figures of one coil, and its verdict by the same limits */
  const figuresOf = async (judged: Judgement, plan: CutPlan, coil: Coil, index: number) => {
    const [figures = {} as CoilFigures] = await judge.ask(judged, 'coils', { coils: [coil] });
    return coilDetail(judged, plan, coil, index, figures);
  };

  serve(api, 'GET /api/house', ({ headers, protocol }) => {
    const stated = pageAddress();
    const address = (stated === '' ? `${protocol}://${headers.host ?? ''}` : stated).replace(/\/+$/, '');
    return {
      code: reader.house(),
      linkAddress: servesBoth ? address.replace(/^https:/, 'http:') : address,
      linkStated: stated !== '',
    };
  });

  serve(api, 'GET /api/labels/:code', async ({ params }) => {
    const { judged, plan, coil, index, material } = await labelled(params.code);
    if (coil === null) {
      const { name } = judged.woundSpool;
      return { name, material, lengthMm: judged.woundMm, verdict: judged.verdict?.fitness ?? 'unknown' };
    }
    const { verdict } = await figuresOf(judged, plan, coil, index);
    return { name: coil.name, material, lengthMm: coil.lengthMm, verdict: verdict.fitness };
  });

  serve(api, 'GET /api/labels/:code/all', async ({ params }) => {
    const { judged, plan, coil, index } = await labelled(params.code);
    const { woundSpool, limits } = judged;
    const { run, spool } = woundSpool;
    return {
      spoolId: spool.id,
      runId: run.id,
      code: coil === null ? woundSpool.code : `${woundSpool.code}-${coil.letter}`,
      startedMs: spool.startedMs,
      timeZone: run.timeZone,
      example: isExample(run),
      lot: run.lot,
      limits: limitsView(limits),
      coil: coil && {
        ...(await figuresOf(judged, plan, coil, index)),
        fromGaugeMm: gaugeMmAt(woundSpool, coil.fromMm),
        toGaugeMm: gaugeMmAt(woundSpool, coil.toMm),
        places: placesFromFeed(judged, coil, 'inner'),
        printers: await Promise.all(
          printers.all().map(async (printer) => {
            const { id, name } = printer;
            try {
              const byIt = await judge.judgeFor(woundSpool, printer);
              // The coil was cut by the plan for the chosen printer. Only stretches and limits are those of this one.
              const { verdict } = await figuresOf(
                byIt,
                { ...plan, request: byIt.plan?.request ?? plan.request },
                coil,
                index,
              );
              return { id, name, fitness: verdict.fitness, sentence: verdict.sentence };
            } catch (thrown) {
              if (!(thrown instanceof Problem)) throw thrown;
              return { id, name, fitness: 'unknown' as const, sentence: `${thrown.message} ${thrown.remedy}` };
            }
          }),
        ),
      },
    };
  });
}
