import type { FastifyRequest } from 'fastify';
import type { Static } from 'typebox';
import { alarmSentence } from '../../alarm/alarm-sentences.ts';
import type { LineSnapshot } from '../../monitor/line/line-snapshot.ts';
import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { RecordReader } from '../../monitor/ports/record.ts';
import { Problem } from '../../problem/problem.ts';
import { LineSettings } from '../../settings/line-settings.ts';
import type { SerialPorts } from '../contract/set-up.ts';
import { type Api, serve } from '../serve.ts';

export interface SetUpParts {
  readonly monitor: LineMonitor;
  readonly reader: RecordReader;
  /** Set on the command line, so the page cannot change it; null = the setting applies. */
  readonly fixedSource: string | null;
  /** Names of the simulator's scenarios. */
  readonly scenarios: readonly string[];
  /** How long the pipeline has stood although lines come, ms; 0 = it moves. */
  standsForMs(): number;
  listSerialPorts(): Promise<Static<typeof SerialPorts>>;
}

/** Settings of the line, serial ports, the log, the health of the service. */
export function setUpRoutes(api: Api, parts: SetUpParts, mayWatch: (request: FastifyRequest) => boolean): void {
  const { monitor, reader, fixedSource, scenarios } = parts;
  const settings = () => ({
    settings: monitor.settings,
    schema: LineSettings,
    reset: [...monitor.snapshot().settingsReset],
    sourceFixed: fixedSource !== null,
    sourceInUse: fixedSource ?? monitor.settings.source,
    scenarios,
  });

  serve(api, 'GET /api/settings', settings);

  serve(api, 'PUT /api/settings', async ({ body, by }) => {
    await monitor.applySettings(body, by);
    return settings();
  });

  serve(api, 'GET /api/serial-ports', () => parts.listSerialPorts());

  serve(api, 'GET /api/log', ({ query }) => reader.logEntries({ limit: query.limit }));

  serve(api, 'GET /health', () => ({ status: 'ok', recording: monitor.snapshot().recordTrouble === null }));

  serve(api, 'GET /ready', (_, { request }) => {
    const snapshot = monitor.snapshot();
    const unwatched = reasonsUnwatched(snapshot, parts.standsForMs());
    const reasons = [...unwatched, ...(snapshot.recordTrouble === null ? [] : [snapshot.recordTrouble])];
    if (reasons.length === 0) return { status: 'watching' };
    const [what, remedy] =
      unwatched.length === 0
        ? ['The line is watched, but nothing is recorded.', 'Check the disk. Readings wait in memory until then.']
        : [
            'Strandward is not watching the line.',
            'Check the cable, the source and the names in its lines (Set-up). The service itself works.',
          ];
    // They name ports, files and addresses.
    throw new Problem('not-ready', [what, ...(mayWatch(request) ? reasons : [])].join(' '), remedy);
  });
}

const READING_WITHIN_S = 10;
const MOVED_WITHIN_MS = 10_000;

function reasonsUnwatched({ link, unwatched, lostNames }: LineSnapshot, standsForMs: number): readonly string[] {
  const reasons: string[] = [];
  if (link.status.phase !== 'open') reasons.push(link.status.text);
  else if (link.silentForS === null || link.silentForS > READING_WITHIN_S)
    reasons.push('No reading has arrived for 10 s.');
  else if (lostNames?.all === true) reasons.push(alarmSentence('signalsChanged', {}, {}, 1));
  else if (unwatched.strand !== null && unwatched.heat !== null) reasons.push(unwatched.strand);
  if (standsForMs >= MOVED_WITHIN_MS)
    reasons.push(`Lines arrive, but for ${Math.floor(standsForMs / 1000)} s none has been processed.`);
  return reasons;
}
