import { Type } from 'typebox';
import type { Spool } from '../../monitor/ports.ts';
import { gaugeOptics, lineParts } from '../../monitor/settings-to-parts.ts';
import { Problem } from '../../problem/problem.ts';
import { ProblemView } from '../contract.ts';
import { judgementView } from '../judgement-view.ts';
import { massView, reelView, type Speed } from '../reel-view.ts';
import { spectrumView } from '../spectrum-view.ts';
import { SpoolChannels } from '../spool-channels.ts';
import { LengthCorrectionInput, LengthScale, ReelView, SpectrumView, SpoolJudgement } from '../spool-contract.ts';
import { lengthScaleView } from '../spool-numbers.ts';
import { type Api, DEFAULT_WHO, IdParam, type RouteContext } from './context.ts';

/** A print of about 120 g. */
const PRINT_METRES = 40;
const PRINT_METRES_MAX = 100_000;

export const ForPrinter = {
  printer: Type.Integer({ minimum: 0, default: 0, description: 'Id of a printer; 0 = this line’s own limits' }),
};

/** What a whole spool is like: judged for a printer, its waves, where things lie on it; and its length put right. */
export function judgementRoutes(api: Api, context: RouteContext): void {
  const { views, analyst, printers, lengths, monitor, samples } = context;
  const whileWound = (spool: Spool) => {
    const on = views.range(spool);
    return new SpoolChannels(samples, on, views.settingsOn(on).gaugeToWinderMm);
  };

  api.get(
    '/api/spools/:id/judgement',
    {
      schema: {
        tags: ['spools'],
        summary: 'The whole spool judged anew for a printer: sections, verdict, statistics, flow, charts, mass',
        params: IdParam,
        querystring: Type.Object(
          {
            ...ForPrinter,
            printMetres: Type.Number({
              exclusiveMinimum: 0,
              maximum: PRINT_METRES_MAX,
              default: PRINT_METRES,
              description: 'Length of the print whose chance of a jam is told',
            }),
          },
          { additionalProperties: false },
        ),
        response: { 200: SpoolJudgement, default: ProblemView },
      },
    },
    async (request) => {
      const spool = views.spoolOrProblem(request.params.id);
      const printer = printers.find(request.query.printer);
      const printMm = request.query.printMetres * 1000;
      const about = analyst.caseOf(spool, printer);
      const found = await analyst.ask(spool, printer, 'findings', {
        printMm,
        line: {
          parts: lineParts(monitor.settings, await whileWound(spool).mean('rpm')),
          optics: gaugeOptics(monitor.settings),
        },
      });
      const mass = massView(found, about, monitor.settings, spool.endGaugeMm === null, speedOf(context, spool));
      return judgementView(found, { spool, printer, about, correction: lengths.of(spool.id), mass, printMm });
    },
  );

  api.get(
    '/api/spools/:id/spectrum',
    {
      schema: {
        tags: ['spools'],
        summary: 'Waves of the diameter, in length or in time, with what may cause them',
        params: IdParam,
        querystring: Type.Object(
          {
            axis: Type.Unsafe<'time' | 'length'>({ type: 'string', enum: ['time', 'length'], default: 'length' }),
          },
          { additionalProperties: false },
        ),
        response: { 200: SpectrumView, default: ProblemView },
      },
    },
    async (request) => {
      const spool = views.spoolOrProblem(request.params.id);
      const found = await analyst.ask(spool, printers.find(0), 'spectrum', {
        parts: lineParts(monitor.settings, await whileWound(spool).mean('rpm')),
      });
      return spectrumView(found, request.query.axis);
    },
  );

  api.get(
    '/api/spools/:id/reel',
    {
      schema: {
        tags: ['spools'],
        summary: 'Where things lie on the spool: layer, turn and cross-section, and how much more fits',
        params: IdParam,
        querystring: Type.Object(
          {
            ...ForPrinter,
            at: Type.Optional(Type.Number({ description: 'A position from the inner end, mm, to be found' })),
          },
          { additionalProperties: false },
        ),
        response: { 200: ReelView, default: ProblemView },
      },
    },
    async (request) => {
      const spool = views.spoolOrProblem(request.params.id);
      const printer = printers.find(request.query.printer);
      const about = analyst.caseOf(spool, printer);
      const found = await analyst.ask(spool, printer, 'judge', {});
      const { at } = request.query;
      if (at !== undefined && !(at >= 0 && at <= found.woundMm + 1)) {
        throw new Problem(
          'bad-request',
          `${at} mm does not lie on the spool, which holds ${found.woundMm.toFixed(0)} mm.`,
          'Give a position from its inner end, in mm.',
        );
      }
      return reelView(found, about, {
        spool,
        settings: monitor.settings,
        correction: lengths.of(spool.id),
        speed: speedOf(context, spool),
        counter: await whileWound(spool).counter('turns'),
        atMm: at ?? null,
      });
    },
  );

  api.put(
    '/api/spools/:id/length-correction',
    {
      schema: {
        tags: ['spools'],
        summary: 'Put the lengths of a spool right by a tape measurement of some of its strand',
        params: IdParam,
        body: LengthCorrectionInput,
        response: { 200: LengthScale, default: ProblemView },
      },
    },
    (request) => {
      const spool = views.spoolOrProblem(request.params.id);
      lengths.correct(spool, request.body, DEFAULT_WHO);
      return lengthScaleView(lengths.of(spool.id));
    },
  );

  api.delete(
    '/api/spools/:id/length-correction',
    {
      schema: {
        tags: ['spools'],
        summary: 'Take the tape measurement back: lengths count as the line counted them',
        params: IdParam,
        response: { 200: LengthScale, default: ProblemView },
      },
    },
    (request) => {
      const spool = views.spoolOrProblem(request.params.id);
      lengths.takeBack(spool, DEFAULT_WHO);
      return lengthScaleView(lengths.of(spool.id));
    },
  );
}

/** null = nothing was wound for any time. */
function speedOf({ monitor, views }: RouteContext, spool: Spool): Speed | null {
  const snapshot = monitor.snapshot();
  if (snapshot.spool?.id === spool.id && snapshot.last !== null)
    return { mmPerS: snapshot.last.speedMmPerS, now: true };
  if (spool.endedMs === null) return null;
  const seconds = (spool.endedMs - spool.startedMs) / 1000;
  const mm = views.range(spool).endGaugeMm - spool.startGaugeMm;
  return seconds > 0 && mm > 0 ? { mmPerS: mm / seconds, now: false } : null;
}
