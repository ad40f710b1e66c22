import { catalogueWith } from '../../alarm/alarm-settings.ts';
import type { PeopleService } from '../../escalation/people-service.ts';
import type { LineMonitor } from '../../monitor/line-monitor.ts';
import type { RecordMaintenance } from '../../monitor/ports/maintenance.ts';
import { LastMinute } from '../../strand/statistics/last-minute.ts';
import type { LiveState } from '../contract/live-state.ts';
import type { MetricsWriter } from '../metrics.ts';
import { type Api, serve } from '../serve.ts';

export interface MetricsParts {
  readonly monitor: LineMonitor;
  readonly people: PeopleService;
  readonly maintenance: RecordMaintenance;
  state(): LiveState;
  standsForMs(): number;
}

/**
 * The state of the line for monitoring systems.
 * @returns to be called at the end
 */
export function metricsRoutes(api: Api, parts: MetricsParts): () => void {
  const { monitor, people, maintenance } = parts;
  const lastMinute = new LastMinute();
  let writer: MetricsWriter | null = null;

  serve(api, 'GET /metrics', async (_, reply) => {
    // Most installations never ask.
    writer ??= new (await import('../metrics.ts')).MetricsWriter();
    const catalogue = catalogueWith(monitor.alarms.settings);
    reply.type(writer.contentType);
    return Buffer.from(
      await writer.write({
        state: parts.state(),
        diameterMm: lastMinute.moments(performance.now()),
        recordBytes: maintenance.recordBytes(),
        freeBytes: maintenance.freeBytes(),
        messagesWaiting: people.overview().channels.reduce((sum, { waiting }) => sum + waiting, 0),
        standsForMs: parts.standsForMs(),
        priorityOf: (type) => catalogue[type].priority,
      }),
    );
  });

  return monitor.subscribe({
    reading: (_, _gaugeMm, diameterMm) => {
      // An empty gauge has no strand to measure.
      if (diameterMm >= monitor.settings.strandPresentMm) lastMinute.add(diameterMm, performance.now());
    },
  });
}
