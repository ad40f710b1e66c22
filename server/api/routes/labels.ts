import { type PrintedCode, readCode } from '../../entities/house.ts';
import { isExample } from '../../entities/run.ts';
import type { RecordReader } from '../../monitor/ports/record.ts';
import type { PrinterService } from '../../monitor/printer-service.ts';
import type { Judgement } from '../../monitor/spool/judgement.ts';
import { requireStrand, type SpoolJudge } from '../../monitor/spool/spool-judge.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import { gaugeMmAt, positionMm, type WoundSpool } from '../../monitor/spool/wound-spool.ts';
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
  /** @throws Problem `unknown-spool`, `unknown-run` */
  const spoolOf = ({ house, run, spool }: PrintedCode): WoundSpool => {
    const runId = reader.runNamed(house, run);
    const name = `${house}-R${run}-${spool}`;
    if (runId === null) {
      const isOurs = house === reader.house();
      throw new Problem(
        'unknown-spool',
        isOurs
          ? `Spool ${name} is not in the record any more: its run was deleted.`
          : `Spool ${name} is from another house: its code starts with ${house}, those of this house with ${reader.house()}.`,
        isOurs
          ? 'Measure the strand before you print with it, or ask who deleted the run.'
          : 'Ask there, or import its run here.',
      );
    }
    const found = spools.ofRun(spools.run(runId)).find((woundSpool) => woundSpool.spool.ordinal === spool);
    if (found !== undefined) return found;
    throw new Problem(
      'unknown-spool',
      `Spool ${name} was deleted.`,
      'If that was a mistake, restore it: the bin is below the list of runs.',
    );
  };

  const labelled = async (code: string) => {
    const printed = readCode(code);
    if (printed === null) {
      throw new Problem(
        'unknown-spool',
        `“${code}” is not the code of a label.`,
        'Scan the label again, or type its code as printed, such as K7M-R3-1-A.',
        { pointer: '/code' },
      );
    }
    const { spool } = spoolOf(printed);
    const judged = await judge.judge(spool.id);
    const { woundSpool, plan } = judged;
    requireStrand(woundSpool);
    if (plan === null) throw new TypeError(`Spool ${woundSpool.name} was judged without a cut list.`);
    const index = printed.coil === null ? -1 : plan.coils.findIndex(({ letter }) => letter === printed.coil);
    const coil = plan.coils[index];
    if (printed.coil !== null && coil?.state !== 'cut') {
      throw new Problem(
        'unknown-coil',
        coil === undefined
          ? `Spool ${woundSpool.name} has no coil ${printed.coil}: its cuts have changed since the label was printed.`
          : `Coil ${coil.name} is not cut yet, or its cut was undone.`,
        'Look at the cut list of the spool, and print the label again after cutting.',
      );
    }
    const material = [woundSpool.run.lot?.name, woundSpool.run.lot?.preparation].filter(Boolean).join(': ');
    return { judged, plan, coil: coil ?? null, index, material: material === '' ? null : material };
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
        places: placesIn(judged, coil),
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

/** Rewinding turns the strand round: what was cut last, the inner end, feeds first. */
function placesIn({ woundSpool, sections }: Judgement, coil: Coil) {
  const inCoil = (mm: number) => Math.min(coil.lengthMm, Math.max(0, mm - coil.fromMm));
  return sections.flatMap(({ kind, verdict, doubt, peakMm, fromMm, toMm }) => {
    const [from, to] = [positionMm(woundSpool, fromMm), positionMm(woundSpool, toMm)];
    if (verdict === 'good' || to <= coil.fromMm || from >= coil.toMm) return [];
    return [{ kind, verdict, doubt: doubt ?? null, peakMm, fromFeedMm: inCoil(from), toFeedMm: inCoil(to) }];
  });
}
