import { routes } from './route-table.ts';
import { text } from './schema.ts';

const METRICS_TYPE = 'application/openmetrics-text';

/** The state of the line for monitoring systems. */
export const metrics = routes({
  'GET /metrics': {
    operationId: 'getMetrics',
    tag: 'live',
    right: 'metrics',
    summary: 'Get the state of the line as OpenMetrics text',
    description:
      'Link, stage, alarms, zones, diameter of the last minute, spool, record, outbox and process, in OpenMetrics 1.0 format. A token with only this right can read nothing else.',
    answers: { 200: text({ description: 'Metrics' }) },
    produces: [METRICS_TYPE],
  },
});
