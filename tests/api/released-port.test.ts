/** The port is released to another program while a spool is wound. */
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { AlarmChange } from '../../server/alarm/alarm.ts';
import { alertsPeople } from '../../server/alarm/life-cycle.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { ScriptedBoard } from '../service/scripted-board.ts';
import { until } from '../source/collecting-listener.ts';
import { startTestService, type TestService } from './test-service.ts';

let board: ScriptedBoard;
let service: TestService;
let changes: AlarmChange[];

beforeEach(async () => {
  board = await new ScriptedBoard().start();
  service = await startTestService(board.source, { gaugeToWinderMm: 0 });
  changes = [];
  service.monitor.subscribe({ alarms: (some) => void changes.push(...some) });
  service.monitor.start();
  await until('readings arrive', () => service.monitor.snapshot().last !== null);
  service.monitor.setStage('winding', 'test');
  await until('strand is wound', () => (service.monitor.snapshot().last?.gaugeMm ?? 0) > 100);
});

afterEach(async () => {
  await service.stop();
  await board.stop();
});

const state = () => service.get<LiveState>('/api/state');
const suppressedTypes = () => service.monitor.alarms.suppressed().map(({ type }) => type);

test('is closed when the answer comes, and says until when', async () => {
  const before = Date.now();
  const reply = await service.send('POST', '/api/source/release', { forS: 120 });
  expect(reply.status).toBe(200);
  const { link, sentence, severity } = await state();
  expect(reply.body).toMatchObject({ phase: 'released', releasedUntilMs: link.releasedUntilMs });
  expect(link.releasedUntilMs).toBeGreaterThanOrEqual(before + 119_000);
  expect(link.releasedUntilMs).toBeLessThanOrEqual(Date.now() + 121_000);
  expect(sentence).toMatch(/^Nothing is being watched\. Released 127\.0\.0\.1:\d+ to other programs for 2 min\./);
  expect(severity).toBe('abnormal');
  expect(board.connections).toBe(0);
});

test('notifies nobody while it is released and when it is used again; the gap is not measured', async () => {
  const { run, spool } = service.monitor.snapshot();
  await service.send('POST', '/api/source/release', {});
  await until('the silence is suppressed', () => suppressedTypes().includes('lineSilent'));
  const [silent] = service.monitor.alarms.suppressed();
  expect(silent).toMatchObject({
    state: 'suppressedByDesign',
    suppression: { reason: 'while the port is released' },
    sentence: expect.stringMatching(/Released .* to other programs for 2 min/),
  });
  expect(silent?.sentence).not.toMatch(/cable/);
  expect(service.monitor.alarms.standing()).toEqual([]);
  expect((await state()).severity).toBe('abnormal');

  expect((await service.send('POST', '/api/source/resume')).status).toBe(200);
  await until(
    'readings arrive again',
    () => service.monitor.snapshot().link.readingsPerS > 0 && suppressedTypes().length === 0,
  );
  expect(changes.filter(alertsPeople)).toEqual([]);
  expect(changes.map(({ alarm, step }) => `${alarm.type} ${step}`)).toEqual([
    'lineSilent suppressed',
    'lineSilent unsuppressed',
  ]);
  const after = service.monitor.snapshot();
  expect([after.run?.id, after.spool?.id]).toEqual([run?.id, spool?.id]);
  const { sections } = await service.get<SpoolDetail>(`/api/spools/${spool?.id}`);
  expect(sections.map(({ kind }) => kind)).toContain('unknown');
  const gap = sections.find(({ kind }) => kind === 'unknown');
  // The board pulled 200 mm/s for at least three seconds.
  expect(gap!.toGaugeMm - gap!.fromGaugeMm).toBeGreaterThan(600);
});

test.skipIf(!IS_LONG_CHECK)(
  'a board that stays silent afterwards is an alarm',
  async () => {
    await service.send('POST', '/api/source/release', {});
    await until('the silence is suppressed', () => suppressedTypes().includes('lineSilent'));
    board.measured.talks = false;
    await service.send('POST', '/api/source/resume');
    await until(
      'the silence is raised',
      () =>
        service.monitor.alarms
          .standing()
          .some(({ type, state: of }) => type === 'lineSilent' && of === 'unacknowledged'),
      20_000,
    );
    expect(changes.some(alertsPeople)).toBe(true);
  },
  40_000,
);

describe('refused', () => {
  test.each([5, 601, 1.5])('for %s s', async (forS) => {
    expect(await service.send('POST', '/api/source/release', { forS })).toMatchObject({
      status: 400,
      body: { code: 'bad-request', pointer: '/forS' },
    });
    expect((await state()).link.phase).toBe('open');
  });

  test('where nothing is held open', async () => {
    const simulated = await startTestService('simulator:evening');
    try {
      simulated.monitor.start();
      for (const path of ['release', 'resume']) {
        expect(await simulated.send('POST', `/api/source/${path}`, path === 'release' ? {} : undefined)).toMatchObject({
          status: 409,
          body: { code: 'wrong-state' },
        });
      }
    } finally {
      await simulated.stop();
    }
  });
});

test('using a port that is in use again changes nothing', async () => {
  const opened = board.accepted;
  expect((await service.send('POST', '/api/source/resume')).status).toBe(200);
  await until('readings arrive', () => service.monitor.snapshot().link.readingsPerS > 0);
  expect([board.accepted, board.connections]).toEqual([opened, 1]);
});
