import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { SampleReader } from '../../monitor/ports/samples.ts';
import { gaugeOptics, lineParts } from '../../monitor/settings-to-parts.ts';
import { jamOnSpool } from '../../monitor/spool/jam-on-spool.ts';
import type { LengthService } from '../../monitor/spool/length-service.ts';
import { adviceOnSpool } from '../../monitor/spool/spool-advice.ts';
import type { SpoolJudge } from '../../monitor/spool/spool-judge.ts';
import type { SpoolRepository } from '../../monitor/spool/spool-repository.ts';
import type { WeighingService } from '../../monitor/spool/weighing-service.ts';
import { isWinding, type WoundSpool, woundMm } from '../../monitor/spool/wound-spool.ts';
import { Problem } from '../../problem/problem.ts';
import { judgementView, lengthScaleView, steadinessView } from '../judgement-view.ts';
import { massView, reelView, type Speed } from '../reel-view.ts';
import { type Api, serve } from '../serve.ts';
import { spectrumView } from '../spectrum-view.ts';
import { SpoolSignals } from '../spool-signals.ts';

export interface JudgementParts {
  readonly spools: SpoolRepository;
  readonly judge: SpoolJudge;
  readonly lengths: LengthService;
  readonly weighings: WeighingService;
  readonly monitor: LineMonitor;
  readonly samples: SampleReader;
}

/** The judgement of a spool, its control chart, periodic faults and places, and the correction of its length and mass. */
export function judgementRoutes(
  api: Api,
  { spools, judge, lengths, weighings, monitor, samples }: JudgementParts,
): void {
  const whileWound = (woundSpool: WoundSpool) => new SpoolSignals(samples, woundSpool);

  serve(api, 'GET /api/spools/:id/judgement', async ({ params: { id }, query: { by, printMetres } }) => {
    const judged = by === 'run' ? await judge.judgeAsWound(spools.wound(id)) : await judge.judge(id);
    const { woundSpool, limits } = judged;
    const examination = await judge.examine(judged);
    const advice = adviceOnSpool(examination, judged.lengthDoubts, limits, {
      parts: lineParts(monitor.settings, await whileWound(woundSpool).mean('rpm')),
      optics: gaugeOptics(monitor.settings),
    });
    const mass = massView(
      judged,
      await judge.meanDiameterMm(woundSpool),
      monitor.settings,
      speedOf(monitor, woundSpool),
    );
    return judgementView(judged, examination, {
      advice,
      jam: jamOnSpool(judged, printMetres * 1000, examination),
      mass,
    });
  });

  serve(api, 'GET /api/spools/:id/steadiness', async ({ params }) => {
    const chart = await judge.ask(await judge.judge(params.id), 'steadiness', {});
    return chart === null ? null : steadinessView(chart);
  });

  serve(api, 'GET /api/spools/:id/spectrum', async ({ params, query }) => {
    const woundSpool = spools.wound(params.id);
    const parts = lineParts(monitor.settings, await whileWound(woundSpool).mean('rpm'));
    const found = await judge.ask({ woundSpool, limits: woundSpool.settings.limits }, 'spectrum', { parts });
    return spectrumView(found, query.axis);
  });

  serve(api, 'GET /api/spools/:id/reel', async ({ params, query: { at } }) => {
    const judged = await judge.judge(params.id);
    const { woundSpool } = judged;
    if (at !== undefined && !(at >= 0 && at <= judged.woundMm + 1)) {
      throw new Problem(
        'bad-place',
        `${at} mm is not on the spool, which holds ${judged.woundMm.toFixed(0)} mm.`,
        'Give a position from its inner end, in mm.',
        { pointer: '/at' },
      );
    }
    return reelView(judged, {
      settings: monitor.settings,
      speed: speedOf(monitor, woundSpool),
      counter: await whileWound(woundSpool).counter('turns'),
      atMm: at ?? null,
    });
  });

  serve(api, 'PUT /api/spools/:id/length-correction', ({ params, body, by }) => {
    const spool = spools.spool(params.id);
    lengths.correct(spool, body, by);
    return lengthScaleView(lengths.of(spool.id));
  });

  serve(api, 'DELETE /api/spools/:id/length-correction', ({ params, by }) => {
    const spool = spools.spool(params.id);
    lengths.takeBack(spool, by);
    return lengthScaleView(lengths.of(spool.id));
  });

  serve(api, 'PUT /api/spools/:id/weighing', async ({ params, body, by }) => {
    weighings.weigh(await judge.judge(params.id), body, by);
    return weighings.of(params.id);
  });

  serve(api, 'DELETE /api/spools/:id/weighing', ({ params, by }) => {
    weighings.takeBack(spools.wound(params.id), by);
    return weighings.of(params.id);
  });
}

/** null = no speed is known, because nothing was wound. */
function speedOf(monitor: LineMonitor, woundSpool: WoundSpool): Speed | null {
  const { spool } = woundSpool;
  const snapshot = monitor.snapshot();
  if (snapshot.spool?.id === spool.id && snapshot.last !== null)
    return { mmPerS: snapshot.last.speedMmPerS, now: true };
  if (spool.endedMs === null || isWinding(woundSpool)) return null;
  const seconds = (spool.endedMs - spool.startedMs) / 1000;
  const mm = woundMm(woundSpool) / woundSpool.scale.factor;
  return seconds > 0 && mm > 0 ? { mmPerS: mm / seconds, now: false } : null;
}
