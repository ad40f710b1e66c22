import { Type } from 'typebox';
import { gaugeOptics, lineParts } from '../../monitor/settings-to-parts.ts';
import { jamOnSpool } from '../../monitor/spool/jam-on-spool.ts';
import { adviceOnSpool } from '../../monitor/spool/spool-advice.ts';
import { isWinding, type WoundSpool, woundMm } from '../../monitor/spool/wound-spool.ts';
import { Problem } from '../../problem/problem.ts';
import { ProblemView } from '../contract.ts';
import { chartsView, judgementView } from '../judgement-view.ts';
import { massView, reelView, type Speed } from '../reel-view.ts';
import { spectrumView } from '../spectrum-view.ts';
import { SpoolChannels } from '../spool-channels.ts';
import {
  ChartsView,
  LengthCorrectionInput,
  LengthScale,
  ReelView,
  SpectrumView,
  SpoolJudgement,
} from '../spool-contract.ts';
import { lengthScaleView } from '../spool-numbers.ts';
import { type Api, DEFAULT_WHO, IdParam, type RouteContext } from './context.ts';

/** A print of about 120 g. */
const PRINT_METRES = 40;
const PRINT_METRES_MAX = 100_000;

/** What a whole spool is like: judged, its waves, where things lie on it; and its length put right. */
export function judgementRoutes(api: Api, context: RouteContext): void {
  const { book, judge, lengths, monitor, samples } = context;
  const whileWound = (on: WoundSpool) => new SpoolChannels(samples, on);

  api.get(
    '/api/spools/:id/judgement',
    {
      schema: {
        tags: ['spools'],
        summary: 'The whole spool judged: sections, verdict, statistics, flow, advice, mass',
        params: IdParam,
        querystring: Type.Object(
          {
            by: Type.Unsafe<'printer' | 'night'>({
              type: 'string',
              enum: ['printer', 'night'],
              default: 'printer',
              description:
                'printer = the one that is chosen for the spool; night = the limits that it was wound under, as the letter of its run tells',
            }),
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
      const { by, printMetres } = request.query;
      const { id } = request.params;
      const judged = by === 'night' ? await judge.judgeByNight(book.wound(id)) : await judge.judge(id);
      const { on, limits } = judged;
      const examination = await judge.examine(judged);
      const advice = adviceOnSpool(examination, limits, {
        parts: lineParts(monitor.settings, await whileWound(on).mean('rpm')),
        optics: gaugeOptics(monitor.settings),
      });
      const mass = massView(judged, await judge.meanDiameterMm(on), monitor.settings, speedOf(context, on));
      return judgementView(judged, examination, { advice, jam: jamOnSpool(judged, printMetres * 1000), mass });
    },
  );

  api.get(
    '/api/spools/:id/charts',
    {
      schema: {
        tags: ['spools'],
        summary: 'Control charts of the diameter along the strand; null = too little strand, or none of it varied',
        params: IdParam,
        response: { 200: Type.Union([ChartsView, Type.Null()]), default: ProblemView },
      },
    },
    async (request) => {
      const charts = await judge.ask(await judge.judge(request.params.id), 'charts', {});
      return charts === null ? null : chartsView(charts);
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
      const on = book.wound(request.params.id);
      const parts = lineParts(monitor.settings, await whileWound(on).mean('rpm'));
      const found = await judge.ask({ on, limits: on.settings.limits }, 'spectrum', { parts });
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
            at: Type.Optional(Type.Number({ description: 'A position from the inner end, mm, to be found' })),
          },
          { additionalProperties: false },
        ),
        response: { 200: ReelView, default: ProblemView },
      },
    },
    async (request) => {
      const judged = await judge.judge(request.params.id);
      const { on } = judged;
      const { at } = request.query;
      if (at !== undefined && !(at >= 0 && at <= judged.woundMm + 1)) {
        throw new Problem(
          'bad-request',
          `${at} mm does not lie on the spool, which holds ${judged.woundMm.toFixed(0)} mm.`,
          'Give a position from its inner end, in mm.',
        );
      }
      return reelView(judged, {
        settings: monitor.settings,
        speed: speedOf(context, on),
        counter: await whileWound(on).counter('turns'),
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
      const spool = book.spool(request.params.id);
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
      const spool = book.spool(request.params.id);
      lengths.takeBack(spool, DEFAULT_WHO);
      return lengthScaleView(lengths.of(spool.id));
    },
  );
}

/** null = nothing was wound for any time. */
function speedOf({ monitor }: RouteContext, on: WoundSpool): Speed | null {
  const { spool } = on;
  const snapshot = monitor.snapshot();
  if (snapshot.spool?.id === spool.id && snapshot.last !== null)
    return { mmPerS: snapshot.last.speedMmPerS, now: true };
  if (spool.endedMs === null || isWinding(on)) return null;
  const seconds = (spool.endedMs - spool.startedMs) / 1000;
  const mm = woundMm(on) / on.scale.factor;
  return seconds > 0 && mm > 0 ? { mmPerS: mm / seconds, now: false } : null;
}
