import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { LiveState } from '../contract/live-state.ts';
import type { LiveFeed } from '../live-feed.ts';
import { type Api, serve } from '../serve.ts';

export interface LiveParts {
  readonly monitor: LineMonitor;
  readonly feed: LiveFeed;
  state(): LiveState;
}

/** The running line: state, stage, spool change. */
export function liveRoutes(api: Api, { monitor, feed, state }: LiveParts): void {
  serve(api, 'GET /api/state', state);

  serve(
    api,
    'GET /live',
    () => ({ kind: 'state', state: state() }),
    (socket, access) => feed.add(socket, access?.credential?.id ?? null),
  );

  serve(api, 'GET /api/heat/expected', () => ({
    zones: [...monitor.expectedPast()].map(([zone, past]) => ({
      zone,
      timeMs: past.map(({ timeMs }) => timeMs),
      lowC: past.map(({ lowC }) => lowC),
      highC: past.map(({ highC }) => highC),
    })),
  }));

  serve(api, 'POST /api/heat/forget', ({ by }) => {
    monitor.forgetZoneModels(by);
    return state();
  });

  serve(api, 'POST /api/stage', ({ body, by }) => {
    monitor.setStage(body.stage, by);
    return state().stage;
  });

  serve(api, 'POST /api/spools/continue', ({ by }) => {
    monitor.continueSpool(by);
    return state().spool;
  });

  serve(api, 'DELETE /api/spools/proposed-change', ({ by }) => {
    monitor.dismissSpoolChange(by);
    return state();
  });

  serve(api, 'POST /api/spools/change', ({ by }) => {
    monitor.changeSpool(by);
    return state().spool;
  });
}
