/**
 * The metrics, read by a parser that refuses what OpenMetrics 1.0 does not allow: `prometheus_client.openmetrics.parser` of Debian's
 * package python3-prometheus-client.
 */
import { execFileSync } from 'node:child_process';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { ALARM_TYPES } from '../../server/alarm/alarm.ts';
import { STAGES } from '../../server/stage/stage.ts';
import { askAs } from '../security/other-device.ts';
import { startTestService, type TestService } from './test-service.ts';

const PARSE = `
import json, sys
from prometheus_client.openmetrics.parser import text_string_to_metric_families
print(json.dumps([[f.name, f.type, [[s.name, s.labels, s.value] for s in f.samples]] for f in text_string_to_metric_families(sys.stdin.read())]))
`;

type Family = readonly [name: string, type: string, samples: readonly [string, Record<string, string>, number][]];

let service: TestService;
const diametersMm: number[] = [];
let text: string;
let families: Map<string, Family>;
beforeAll(async () => {
  service = await startTestService('simulator:steady?pace=max');
  const { monitor } = service;
  await new Promise<void>((resolve) => {
    monitor.subscribe({
      reading: (_, _gaugeMm, diameterMm) => {
        if (diameterMm >= 0.5) diametersMm.push(diameterMm);
        if (diametersMm.length === 500) resolve();
      },
    });
    monitor.start();
  });
  await monitor.stop();
  const reply = await fetch(`${service.address}/metrics`);
  expect(reply.headers.get('content-type')).toBe('application/openmetrics-text; version=1.0.0; charset=utf-8');
  text = await reply.text();
  const parsed = JSON.parse(
    execFileSync('/usr/bin/python3', ['-c', PARSE], { input: text, encoding: 'utf8' }),
  ) as Family[];
  families = new Map(parsed.map((family) => [family[0], family]));
});
afterAll(() => service.stop());

const samples = (name: string) => families.get(`strandward_${name}`)?.[2] ?? [];
const value = (name: string) => samples(name)[0]?.[2];

it('agree with the state of the line', async () => {
  const state = await service.get<{
    zones: { zone: number; temperatureC: number }[];
    link: { received: number; readings: number };
    stage: { stage: string };
  }>('/api/state');
  expect(value('lines_received')).toBe(state.link.received);
  expect(families.get('strandward_lines_received')?.[1]).toBe('counter');
  expect(samples('zone_temperature_celsius')).toEqual(
    state.zones.map(({ zone, temperatureC }) => [
      'strandward_zone_temperature_celsius',
      { zone: String(zone) },
      expect.closeTo(temperatureC, 1),
    ]),
  );
  expect(Object.fromEntries(samples('stage').map(([, { stage }, at]) => [stage, at]))).toEqual(
    Object.fromEntries(STAGES.map((stage) => [stage, stage === state.stage.stage ? 1 : 0])),
  );
  expect(value('record_size_bytes')).toBeGreaterThan(0);
});

it('give the diameter of the last minute in metres', () => {
  const mean = diametersMm.reduce((sum, d) => sum + d, 0) / diametersMm.length;
  const variance = diametersMm.reduce((sum, d) => sum + (d - mean) ** 2, 0) / (diametersMm.length - 1);
  expect(mean).toBeGreaterThan(1);
  expect(value('diameter_mean_meters')).toBeCloseTo(mean / 1000, 9);
  expect(value('diameter_stddev_meters')).toBeCloseTo(Math.sqrt(variance) / 1000, 9);
});

it('have one series for each type of alarm, active or not, and leave out what is unknown', () => {
  expect(samples('alarms_active').map(([, { type }]) => type)).toEqual([...ALARM_TYPES]);
  expect(samples('spool_wound_meters')).toEqual([]);
  expect(text.split('\n').length).toBeLessThan(300);
});

it('are all that a token for metrics can read', async () => {
  const added = await service.send('POST', '/api/tokens', { name: 'wall display', right: 'metrics' });
  const { token } = added.body as { token: string };
  expect(await service.get('/api/log?limit=1')).toMatchObject([
    { what: 'Added the token “wall display” with the right to read metrics.' },
  ]);
  const asToken = { authorization: `Bearer ${token}` };
  expect(await askAs(service, 'GET', '/metrics')).toMatchObject({ status: 401 });
  expect(await askAs(service, 'GET', '/metrics', asToken)).toMatchObject({ status: 200 });
  expect(await askAs(service, 'GET', '/api/state', asToken)).toMatchObject({
    status: 403,
    body: {
      title: 'This needs the right to watch; “wall display” has the right to read metrics.',
      detail: 'Use a token with that right: Set-up → Devices.',
    },
  });
  expect((await service.send('POST', '/api/invitations', { right: 'metrics' })).status).toBe(400);
});
