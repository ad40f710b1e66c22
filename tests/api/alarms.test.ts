/** Alarms over HTTP: actions, suppression, settings, journal and alarm load. The alarm is a line that sends nothing. */
import { Value } from 'typebox/value';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { AlarmLoadView, JournalPageView } from '../../server/api/contract/alarm-journal.ts';
import { AlarmTypeView, AlarmView } from '../../server/api/contract/alarms.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import { MUTE, startTestService, type TestService } from './test-service.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 60_000 });

let service: TestService;
let silent: AlarmView;
const as = (name: string) => ({ 'strandward-by': encodeURIComponent(name) });
const post = (path: string, body?: unknown, by = 'Ada') => service.send('POST', path, body, as(by));
const suppressed = () => service.get<AlarmView[]>('/api/alarms/suppressed');

async function until<T>(ask: () => Promise<T>, good: (answer: T) => boolean): Promise<T> {
  for (let i = 0; i < 400; i++) {
    const answer = await ask();
    if (good(answer)) return answer;
    await new Promise((resolve) => setTimeout(resolve, 50));
  }
  throw new Error('not within 20 s');
}

beforeAll(async () => {
  service = await startTestService(MUTE);
  service.monitor.start();
  [silent] = (await until(
    () => service.get<AlarmView[]>('/api/alarms'),
    (alarms) => alarms.length > 0,
  )) as [AlarmView];
});
afterAll(() => service?.stop());

describe('an alarm', () => {
  test('states what it is, what happens if ignored, and what to check', () => {
    expect(Value.Check(AlarmView, silent)).toBe(true);
    expect(silent).toMatchObject({
      type: 'lineSilent',
      state: 'unacknowledged',
      suppression: null,
      longestShelfMin: 1440,
    });
    expect(silent.consequence).toMatch(/being watched/);
  });

  test('moves from the active to the suppressed alarms while it is silenced', async () => {
    const reply = await post(`/api/alarms/${silent.id}/shelve`, { forMin: 10, reason: 'soldering' });
    expect(reply.status).toBe(200);
    expect(reply.body).toMatchObject({
      state: 'shelved',
      suppression: { by: 'Ada', from: '127.0.0.1', reason: 'soldering' },
    });
    const state = await service.get<LiveState>('/api/state');
    expect([state.alarms, state.suppressed.map(({ id }) => id)]).toEqual([[], [silent.id]]);
    const { sinceMs, untilMs } = state.suppressed[0]!.suppression!;
    expect(untilMs! - sinceMs).toBeCloseTo(600_000, 0);
    expect(Object.keys(state.suppressed[0]!.suppression!)).not.toContain('before');
  });

  test('comes back when a user ends the silence', async () => {
    const reply = await post(`/api/alarms/${silent.id}/unshelve`);
    expect(reply).toMatchObject({ status: 200, body: { state: 'unacknowledged', suppression: null } });
    expect(await suppressed()).toEqual([]);
  });

  test('is taken out of service with a reason, and returned to service', async () => {
    const out = await post('/api/alarm-types/sensorJumping/out-of-service', {
      zones: [2],
      reason: 'no sensor there',
    });
    expect(out).toMatchObject({
      status: 200,
      body: [{ state: 'outOfService', subject: 'zone 2', title: 'Zone 2: reading jumps' }],
    });
    expect((await suppressed()).map(({ title }) => title)).toEqual(['Zone 2: reading jumps']);
    const [{ id }] = out.body as [AlarmView];
    const back = await post(`/api/alarms/${id}/return-to-service`, undefined, 'Grace');
    expect(back).toMatchObject({ status: 200, body: { state: 'normal' } });
    expect(await suppressed()).toEqual([]);
  });

  test('is taken out of service for all requested zones or for none', async () => {
    const take = (zones: number[]) =>
      post('/api/alarm-types/sensorFrozen/out-of-service', { zones, reason: 'a trial' });
    const [third] = (await take([3])).body as [AlarmView];
    const refused = await take([4, 3]);
    expect(refused).toMatchObject({ status: 409, body: { title: expect.stringMatching(/Zone 3.*already/) } });
    expect((await suppressed()).map(({ subject }) => subject)).toEqual(['zone 3']);
    const both = (await take([4, 5])).body as AlarmView[];
    expect(both.map(({ subject, state }) => [subject, state])).toEqual([
      ['zone 4', 'outOfService'],
      ['zone 5', 'outOfService'],
    ]);
    for (const { id } of [third, ...both]) await post(`/api/alarms/${id}/return-to-service`);
    expect(await suppressed()).toEqual([]);
  });

  test.each<[string, unknown, number, RegExp]>([
    ['/api/alarms/999/shelve', { forMin: 10 }, 404, /999/],
    ['/api/alarms/1/shelve', { forMin: -5 }, 400, /cannot be silenced for -5 min/],
    ['/api/alarms/1/shelve', { forMin: 100_000 }, 400, /longest time is 1440 min/],
    ['/api/alarms/1/shelve', { forMin: null }, 409, /No run is in progress/],
    ['/api/alarms/1/shelve', {}, 400, /forMin/],
    ['/api/alarms/1/shelve', { forMin: 10, reason: 'x'.repeat(301) }, 400, /reason/],
    ['/api/alarms/1/unshelve', {}, 409, /not silenced/],
    ['/api/alarms/1/reset', {}, 409, /cause of alarm 1 is still present/],
    ['/api/alarms/1/return-to-service', {}, 409, /not out of service/],
    ['/api/alarm-types/blob/out-of-service', { reason: ' ' }, 400, /No reason was given/],
    ['/api/alarm-types/blob/out-of-service', { reason: 'x', zones: [1] }, 400, /not an alarm of a zone/],
    ['/api/alarm-types/sensorOpen/out-of-service', { reason: 'x' }, 400, /no zone was named/],
    ['/api/alarm-types/sensorOpen/out-of-service', { reason: 'x', zones: [9] }, 400, /zones/],
    ['/api/alarm-types/fire/out-of-service', { reason: 'x' }, 400, /type/],
  ])('refuses POST %s %j with %i', async (path, body, status, text) => {
    const reply = await post(path, body);
    expect(reply.status).toBe(status);
    expect((reply.body as { title: string }).title).toMatch(text);
  });
});

describe('settings of alarm types', () => {
  const typeOf = async (type: string) =>
    (await service.get<AlarmTypeView[]>('/api/alarm-types')).find((one) => one.type === type)!;

  test('are listed with their defaults', async () => {
    const all = await service.get<AlarmTypeView[]>('/api/alarm-types');
    for (const one of all) expect(Value.Check(AlarmTypeView, one), one.type).toBe(true);
    expect(all.every(({ changed }) => !changed)).toBe(true);
    expect(await typeOf('zoneAboveAbsoluteLimit')).toMatchObject({
      perZone: true,
      deadband: 3,
      deadbandUnit: '°C',
      limit: { value: 300, unit: '°C' },
      longestShelfMin: 10,
      latching: true,
    });
    expect(await typeOf('coldScrew')).toMatchObject({ perZone: false });
  });

  test('change, are logged and can be restored', async () => {
    const set = await service.send('PUT', '/api/alarm-types/blob', { offDelayS: 90 }, as('Ada'));
    expect(set).toMatchObject({ status: 200, body: { offDelayS: 90, changed: true, default: { offDelayS: 60 } } });
    const more = await service.send('PUT', '/api/alarm-types/blob', { latching: true });
    expect(more).toMatchObject({ status: 200, body: { offDelayS: 90, latching: true } });
    const log = service.store.reader.logEntries({ limit: 10 }).map(({ who, what }) => `${who}: ${what}`);
    expect(log).toContain('Ada: Changed the alarm “Blob”: off-delay in s from 60 to 90.');
    expect(service.store.writer.loadAlarmSettings()).toEqual({ blob: { offDelayS: 90, latching: true } });
    const back = await service.send('DELETE', '/api/alarm-types/blob');
    expect(back).toMatchObject({ status: 200, body: { offDelayS: 60, latching: false, changed: false } });
    expect(service.store.writer.loadAlarmSettings()).toEqual({});
  });

  test('apply to an active alarm immediately', async () => {
    await service.send('PUT', '/api/alarm-types/lineSilent', {
      priority: 'medium',
      firstCheck: 'Is the blue plug in?',
    });
    const [alarm] = await service.get<AlarmView[]>('/api/alarms');
    expect(alarm).toMatchObject({ id: silent.id, priority: 'medium', firstCheck: 'Is the blue plug in?' });
    await service.send('DELETE', '/api/alarm-types/lineSilent');
  });

  test.each<[string, unknown, RegExp]>([
    ['blob', { onDelayS: -1 }, /on-delay is -1 s/],
    ['blob', { deadband: 1 }, /no measured value/],
    ['lineGarbled', { deadband: 11 }, /would return only at -1/],
    ['blob', { colour: 'red' }, /no setting “colour”/],
    ['sensorSlipped', { priority: 'low' }, /must stay high/],
  ])('refuse PUT %s %j with an explanation', async (type, body, text) => {
    const reply = await service.send('PUT', `/api/alarm-types/${type}`, body);
    expect(reply.status).toBe(400);
    expect((reply.body as { title: string }).title).toMatch(text);
    expect(await typeOf(type)).toMatchObject({ changed: false });
  });
});

describe('the journal', () => {
  const all = '/api/alarm-journal?from=0&to=9e15';

  test('lists each step: what, by whom, from where and why', async () => {
    const steps = await service.get<Record<string, unknown>[]>(all);
    expect(steps.map(({ step }) => step)).toEqual([
      'raised',
      'shelved',
      'unshelved',
      'outOfService',
      'returnedToService',
      ...Array(3).fill('outOfService'),
      ...Array(3).fill('returnedToService'),
    ]);
    expect(steps[1]).toMatchObject({ by: 'Ada', from: '127.0.0.1', reason: 'soldering', run: null, alarm: silent.id });
    expect(steps[1]!['suppressed until']).toMatch(/^\d{4}-\d\d-\d\dT/);
    expect(steps[4]).toMatchObject({ by: 'Grace', title: 'Zone 2: reading jumps' });
  });

  test('has the same content as CSV, with cells that look like formulas made harmless', async () => {
    const reason = '=HYPERLINK("http://x","y"), or "so"';
    await post(`/api/alarms/${silent.id}/shelve`, { forMin: 1, reason }, '+Ada');
    await post(`/api/alarms/${silent.id}/unshelve`);
    const { status, headers, bytes } = await service.bytes(`${all}&format=csv`);
    expect(status).toBe(200);
    expect(headers.get('content-type')).toMatch(/^text\/csv/);
    expect(headers.get('content-disposition')).toBe('attachment; filename="alarms.csv"');
    const lines = new TextDecoder().decode(bytes).split('\r\n');
    expect(lines[0]).toBe(
      'time,run,alarm,title,type,subject,priority,step,state,by,from,reason,occurrences,suppressed until,sentence',
    );
    expect(lines).toHaveLength(15);
    expect(lines.at(-1)).toBe('');
    expect(lines[12]).toContain(`'+Ada,127.0.0.1,"'=HYPERLINK(""http://x"",""y""), or ""so"""`);
  });

  test('is searched by words, step and time, the newest entries first, page by page', async () => {
    const found = (query: string) => service.get<JournalPageView>(`/api/alarm-journal/entries?${query}`);
    const all = await found('limit=100');
    expect(Value.Check(JournalPageView, all)).toBe(true);
    expect([all.entries.length, all.next, all.entries.at(-1)!.step]).toEqual([13, null, 'raised']);
    const pages: JournalPageView[] = [];
    let next = '';
    do {
      pages.push(await found(`limit=5${next}`));
      const last = pages.at(-1)!.next;
      next = last === null ? '' : `&to=${last.to}&toId=${last.toId}`;
    } while (next !== '');
    expect(pages.map(({ entries }) => entries.length)).toEqual([5, 5, 3]);
    expect(pages.flatMap(({ entries }) => entries)).toEqual(all.entries);

    const steps = async (query: string) => (await found(query)).entries.map(({ step, by }) => `${step} ${by ?? ''}`);
    expect(await steps('search=SOLDERING ada')).toEqual(['shelved Ada']);
    expect(await steps('search=ada&step=unshelved')).toEqual(['unshelved Ada', 'unshelved Ada']);
    expect(await steps('search=never said')).toEqual([]);
    const raisedMs = all.entries.at(-1)!.timeMs;
    expect(await steps(`to=${raisedMs + 1}`)).toEqual(['raised ']);
    expect(await steps(`from=${raisedMs + 1}&search=no data`)).toHaveLength(4);
  });

  test('refuses a period that ends before it starts, and an unknown run', async () => {
    expect(await service.send('GET', '/api/alarm-journal?from=5&to=5')).toMatchObject({ status: 400 });
    expect(await service.send('GET', '/api/alarm-journal?from=5&to=soon')).toMatchObject({ status: 400 });
    expect(await service.send('GET', '/api/runs/77/alarm-journal')).toMatchObject({ status: 404 });
    expect(await service.send('GET', '/api/runs/77/alarm-load')).toMatchObject({ status: 404 });
  });
});

test('a run has its own journal and alarm load, and its end ends a silence until then', async () => {
  service.monitor.setStage('heating', 'Ada');
  const run = (await service.get<LiveState>('/api/state')).run!;
  expect(await post(`/api/alarms/${silent.id}/shelve`, { forMin: null })).toMatchObject({
    body: { state: 'shelved', suppression: { untilRunEnds: true } },
  });
  const out = await post('/api/alarm-types/recordFailing/out-of-service', { reason: 'a trial' });
  service.monitor.setStage('stopped', 'Ada');
  await until(suppressed, (alarms) => alarms.length === 1);
  const figures = await service.get<AlarmLoadView>(`/api/runs/${run.id}/alarm-load`);
  expect(Value.Check(AlarmLoadView, figures)).toBe(true);
  const steps = await service.get<Record<string, unknown>[]>(`/api/runs/${run.id}/alarm-journal`);
  expect(steps.filter(({ type }) => type === 'recordFailing').map(({ step }) => step)).toEqual(['outOfService']);
  // The alarm was raised before the run, but its cause still held when the run started.
  const ofSilent = steps.filter(({ alarm }) => alarm === silent.id).map(({ step }) => step);
  expect([ofSilent[0], ofSilent.at(-1)]).toEqual(['raised', 'unshelved']);
  const detail = await service.get<RunDetail>(`/api/runs/${run.id}`);
  expect(detail.alarms.filter(({ alarm }) => alarm.id !== silent.id)).toMatchObject([
    { step: 'outOfService', by: 'Ada', from: '127.0.0.1', reason: 'a trial' },
  ]);
  // The step is not repeated in the log of the run.
  expect(detail.log.filter(({ what }) => /service|shelved/i.test(what))).toEqual([]);
  await post(`/api/alarms/${(out.body as AlarmView[])[0]!.id}/return-to-service`);
});
