/** How the service stops, and how it handles a network board that disconnects. */
import { rmSync } from 'node:fs';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { RunDetail, SectionView, SpoolDetail } from '../../server/api/contract/runs-and-spools.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { listenLive } from './live-listener.ts';
import { type RunningService, startService, until } from './running-service.ts';
import { ScriptedBoard } from './scripted-board.ts';

// Starting a process is slow on a busy machine; required speeds are measured separately.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

let board: ScriptedBoard;
let service: RunningService;
const state = () => service.get<LiveState>('/api/state');

beforeEach(async () => {
  board = await new ScriptedBoard().start();
  service = await startService({ source: board.source });
  await service.send('PUT', '/api/settings', { gaugeToWinderMm: 100 });
  await until(state, (s) => s.now.diameterMm !== null && s.link.phase === 'open', 'readings');
  await service.send('POST', '/api/stage', { stage: 'winding' });
  await until(state, (s) => (s.spool?.woundMm ?? 0) > 100, 'a decimetre on the spool');
});
afterEach(async () => {
  await service?.remove();
  await board?.stop();
});

describe('asked to end', () => {
  test.each(IS_LONG_CHECK ? (['SIGTERM', 'SIGINT'] as const) : (['SIGTERM'] as const))(
    'by %s it ends in an orderly way, with 0, and keeps what a user entered at the last moment',
    async (signal) => {
      const { run, spool } = await state();
      const pages = await Promise.all([1, 2, 3].map(() => listenLive(service.address)));
      const replies = await Promise.all([
        service.send('PUT', `/api/runs/${run!.id}/note`, { note: 'blue, dried 4 h' }),
        service.send('POST', `/api/spools/${spool!.id}/sections`, {
          fromSpoolMm: 5,
          toSpoolMm: 20,
          verdict: 'discard',
        }),
      ]);
      const askedMs = performance.now();
      const exitCode = await service.stop(signal);
      expect(exitCode, service.output()).toBe(0);
      expect(performance.now() - askedMs).toBeLessThan(5000);
      for (const page of pages) page.close();
      expect(service.output()).not.toMatch(/not clean|"level":[56]0/);
      expect(replies.map(({ status }) => status)).toEqual([200, 201]);

      const { dataFolder } = service;
      service = await startService({ source: board.source, dataFolder });
      const after = await service.get<RunDetail>(`/api/runs/${run!.id}`);
      expect(after.run).toMatchObject({ note: 'blue, dried 4 h', endedMs: null });
      expect(after.sections.filter((one) => one.origin === 'user')).toMatchObject([
        { fromSpoolMm: 5, toSpoolMm: 20, verdict: 'discard' },
      ]);
    },
  );

  test.skipIf(!IS_LONG_CHECK)('killed while answering, it has kept everything that it had confirmed', async () => {
    const { spool } = await state();
    const accepted: string[] = [];
    const marking = (async () => {
      for (let i = 0; i < 200; i++) {
        const reply = await service
          .send('POST', `/api/spools/${spool!.id}/sections`, {
            fromSpoolMm: 1,
            toSpoolMm: 50,
            verdict: 'doubtful',
            note: `word ${i}`,
          })
          .catch(() => null);
        if (reply?.status !== 201) return;
        accepted.push((reply.body as SectionView).note);
      }
    })();
    await until(
      () => accepted.length,
      (count) => count >= 20,
      'twenty words',
    );
    await service.kill();
    await marking;
    const { dataFolder } = service;
    service = await startService({ source: board.source, dataFolder });
    // The last second of readings may be lost, and with it the place of a statement, until the line sends again.
    await until(state, (s) => (s.spool?.woundMm ?? 0) > 100, 'the spool');
    const { sections } = await service.get<SpoolDetail>(`/api/spools/${spool!.id}`);
    const kept = sections.map((one) => one.note);
    expect(accepted.filter((note) => !kept.includes(note))).toEqual([]);
  });

  test.skipIf(!IS_LONG_CHECK)('a replay at full speed ends in an orderly way, too', async () => {
    const replay = await startService({ source: 'simulator:evening?pace=max' });
    await until(
      () => replay.get<LiveState>('/api/state'),
      (s) => s.link.readings > 5000,
      'readings',
    );
    expect(await replay.stop()).toBe(0);
    expect(replay.output()).not.toMatch(/not clean|"level":[56]0/);
    rmSync(replay.dataFolder, { recursive: true });
  });
});

describe('a network board', () => {
  test.skipIf(!IS_LONG_CHECK)(
    'that disconnects raises an alarm within four seconds and is reconnected; the gap is marked as not measured',
    async () => {
      const live = await listenLive(service.address);
      const pulledAtMm = (await state()).now.gaugeMm;
      const pulledMs = performance.now();
      await board.pullOut();
      const waiting = await live.state((s) => s.link.phase === 'waiting', 'words', 3000);
      expect(waiting.link.text).toContain(`127.0.0.1:${board.port}`);
      expect(waiting.link.text).toMatch(/Trying again in/);
      const silent = await live.state((s) => s.alarms.some((one) => one.type === 'lineSilent'), 'the alarm', 6000);
      expect(silent.atMs - pulledMs).toBeGreaterThan(2500);
      expect(silent.atMs - pulledMs).toBeLessThan(4200);
      const alarm = silent.alarms.find((one) => one.type === 'lineSilent')!;
      expect(alarm).toMatchObject({ priority: 'high', state: 'unacknowledged' });
      expect(alarm.caution).toMatch(/heat/);
      // Without readings no strand is judged.
      expect(silent.alarms.map((one) => one.type)).toEqual(['lineSilent']);

      live.forget();
      await board.plugIn();
      const isIt = (one: SectionView) => one.kind === 'unknown' && !one.open && one.fromGaugeMm > pulledAtMm - 20;
      const back = await live.state((s) => s.sections.some(isIt), 'the unknown stretch', 10_000);
      live.close();
      expect(back.link.phase).toBe('open');
      const gap = back.sections.find(isIt)!;
      // From where it was pulled to the first reading after that: the board's counter continued.
      expect(gap.toGaugeMm - gap.fromGaugeMm).toBeGreaterThan(2.5 * board.measured.speedMmPerS);
      expect(gap.verdict).not.toBe('good');
      expect(back.stage.stage).toBe('winding');
    },
  );

  test.skipIf(!IS_LONG_CHECK)('that stays connected but sends nothing raises the alarm, too', async () => {
    const live = await listenLive(service.address);
    const quietMs = performance.now();
    board.measured.talks = false;
    const silent = await live.state((s) => s.alarms.some((one) => one.type === 'lineSilent'), 'the alarm', 6000);
    live.close();
    expect(silent.atMs - quietMs).toBeGreaterThan(2500);
    expect(silent.atMs - quietMs).toBeLessThan(4200);
    expect(silent.sentence).toMatch(/^No data for/);
    // If the line sends again within the off-delay, the alarm stays the same; it does not chatter.
    board.measured.talks = true;
    await until(state, (s) => (s.link.silentForS ?? 9) < 0.5, 'the line again');
    const standing = (await state()).alarms.filter((one) => one.type === 'lineSilent');
    expect(standing.map(({ occurrences }) => occurrences)).toEqual([1]);
  });
});
