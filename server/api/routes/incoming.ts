import { isDeepStrictEqual } from 'node:util';
import type { LineMonitor } from '../../monitor/line-monitor.ts';
import { Problem } from '../../problem/problem.ts';

import { type Api, serve } from '../serve.ts';
import { linkView } from '../views.ts';

/** What the line sends, and what each field means. */
export function incomingRoutes(api: Api, { monitor }: { readonly monitor: LineMonitor }): void {
  serve(api, 'GET /api/incoming', () => monitor.incoming());
  serve(api, 'POST /api/source/release', async ({ body, by }) => {
    await monitor.releasePort(body.forS, by);
    return linkView(monitor.snapshot().link);
  });
  serve(api, 'POST /api/source/resume', ({ by }) => {
    monitor.resumePort(by);
    return linkView(monitor.snapshot().link);
  });
  serve(api, 'PUT /api/mapping', async ({ body, by }) => {
    if (!isDeepStrictEqual(body.before, monitor.settings.roles)) {
      throw new Problem(
        'wrong-state',
        'The signals were changed on another device in the meantime.',
        'Look at the page again, then repeat your change.',
      );
    }
    const unusedFields = body.unused ?? monitor.settings.unusedFields;
    await monitor.applySettings({ roles: body.roles, unusedFields }, by);
    return monitor.incoming();
  });
}
