/** Actions on alarms are stored before they are confirmed, so they survive kill -9. */
import { afterEach, expect, test, vi } from 'vitest';
import type { AlarmTypeView, AlarmView } from '../../server/api/contract/alarms.ts';
import { type RunningService, startService, until } from './running-service.ts';

const ADA = { 'strandward-by': 'Ada' };
const GRACE = { 'strandward-by': 'Grace' };

vi.setConfig({ testTimeout: 90_000, hookTimeout: 60_000 });

let service: RunningService;
afterEach(() => service?.remove());

test('silenced alarms, alarms out of service, acknowledgements and settings survive a kill -9 right after the answer', async () => {
  // Nothing listens there, so the line is silent, which is the alarm.
  const source = 'tcp:127.0.0.1:9';
  service = await startService({ source });
  const { dataFolder } = service;
  const standing = () => service.get<AlarmView[]>('/api/alarms');
  const suppressed = () => service.get<AlarmView[]>('/api/alarms/suppressed');
  const [silent] = (await until(standing, (list) => list.length === 1, 'the silence')) as [AlarmView];
  const answers = await Promise.all([
    service.send('POST', `/api/alarms/${silent.id}/shelve`, { forMin: 60, reason: 'tea' }, ADA),
    service.send('POST', '/api/alarm-types/neck/out-of-service', { reason: 'a trial' }, ADA),
    service.send('PUT', '/api/alarm-types/blob', { offDelayS: 75 }, ADA),
  ]);
  await service.kill();
  expect(answers.map(({ status }) => status)).toEqual([200, 200, 200]);
  service = await startService({ source, dataFolder });

  const suppressedAlarms = await suppressed();
  expect(
    suppressedAlarms.map(({ type, state, suppression }) => [type, state, suppression?.reason, suppression?.by]),
  ).toEqual([
    ['lineSilent', 'shelved', 'tea', 'Ada'],
    ['neck', 'outOfService', 'a trial', 'Ada'],
  ]);
  expect(suppressedAlarms[0]!.suppression).toEqual((answers[0]!.body as AlarmView).suppression);
  const blob = (await service.get<AlarmTypeView[]>('/api/alarm-types')).find(({ type }) => type === 'blob');
  expect(blob).toMatchObject({ offDelayS: 75, changed: true });
  // Longer than it takes to notice a silent line; the alarm is still silenced.
  await until(
    () => service.get<{ link: { phase: string }; serverTimeMs: number }>('/api/state'),
    ((first) => (now) => {
      first ||= now.serverTimeMs;
      return now.serverTimeMs - first > 5000;
    })(0),
    'five seconds',
  );
  expect(await standing()).toEqual([]);

  const back = await service.send('POST', `/api/alarms/${silent.id}/unshelve`, undefined, GRACE);
  expect(back.body).toMatchObject({ state: 'unacknowledged' });
  await service.send('POST', `/api/alarms/${silent.id}/acknowledge`, undefined, GRACE);
  await service.kill();
  service = await startService({ source, dataFolder });
  expect(await standing()).toMatchObject([{ id: silent.id, state: 'acknowledged', acknowledgedBy: 'Grace' }]);
  const steps = await service.get<{ step: string; by: string | null }[]>('/api/alarm-journal?from=0&to=9e15');
  expect(steps.map(({ step, by }) => `${step} ${by ?? ''}`)).toEqual([
    'raised ',
    'shelved Ada',
    'outOfService Ada',
    'unshelved Grace',
    'acknowledged Grace',
  ]);
});
