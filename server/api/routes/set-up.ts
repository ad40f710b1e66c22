import { LineSettings } from '../../settings/line-settings.ts';
import { serve } from '../serve.ts';
import type { Api, RouteContext } from './context.ts';

/** Settings of the line, serial ports, the log, the health of the service. */
export function setUpRoutes(api: Api, context: RouteContext): void {
  const { monitor, reader, fixedSource, scenarios } = context;
  const settings = () => ({
    settings: monitor.settings,
    schema: LineSettings,
    sourceFixed: fixedSource !== null,
    sourceInUse: fixedSource ?? monitor.settings.source,
    scenarios,
  });

  serve(api, 'GET /api/settings', settings);

  serve(api, 'PUT /api/settings', async ({ body, by }) => {
    await monitor.applySettings(body, by);
    return settings();
  });

  serve(api, 'GET /api/serial-ports', () => context.listSerialPorts());

  serve(api, 'GET /api/log', ({ query }) => reader.logEntries({ limit: query.limit }));

  serve(api, 'GET /health', () => ({ status: 'ok', recording: monitor.snapshot().recordTrouble === null }));
}
