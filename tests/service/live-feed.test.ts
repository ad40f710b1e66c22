/** The live data of many pages, and of one that does not keep up. */
import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import type { LiveState } from '../../server/api/contract.ts';
import { type LiveListener, listenLive } from './live-listener.ts';
import { type RunningService, startService, until } from './running-service.ts';
import { ScriptedBoard } from './scripted-board.ts';

// A busy machine takes its time to start a process; what must be quick is measured for itself.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

const CLIENTS = 20;
const SLOW_CLIENTS = 3;

let board: ScriptedBoard;
let service: RunningService;

beforeAll(async () => {
  board = await new ScriptedBoard().start();
  service = await startService({ source: board.source, args: ['--log', 'warn'] });
  const state = () => service.get<LiveState>('/api/state');
  await until(state, (s) => s.now.diameterMm !== null && s.link.phase === 'open', 'readings');
  await service.send('POST', '/api/stage', { stage: 'winding' });
});
afterAll(async () => {
  await service?.remove();
  await board?.stop();
});

const residentMb = () =>
  Number(/VmRSS:\s+(\d+) kB/.exec(readFileSync(`/proc/${service.process.pid}/status`, 'latin1'))?.[1]) / 1024;
const listeners = (count: number) => Promise.all(Array.from({ length: count }, () => listenLive(service.address)));
const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

describe('twenty pages', () => {
  test('each gets every reading in order, and hears of a blob within a second', async () => {
    const pages = await listeners(CLIENTS);
    await pause(1000);
    const injectedMs = performance.now();
    board.stretch(30, 2.1);
    const heard = await Promise.all(
      pages.map((page) => page.state((s) => s.alarms.some((one) => one.type === 'blob'), 'the blob')),
    );
    for (const state of heard) expect(state.atMs - injectedMs).toBeLessThan(1000);
    await pause(500);
    for (const page of pages) {
      const times = page.frames.flatMap(({ frame }) => (frame.kind === 'readings' ? frame.timeMs : []));
      expect(times.length).toBeGreaterThan(40);
      expect(times.every((time, i) => i === 0 || time > times[i - 1]!)).toBe(true);
      expect(page.frames.some(({ frame }) => frame.kind === 'skipped')).toBe(false);
    }
    // All got the same readings.
    const last = (page: LiveListener) =>
      page.frames.flatMap(({ frame }) => (frame.kind === 'readings' ? frame.diameterMm : []));
    const shortest = Math.min(...pages.map((page) => last(page).length)) - 10;
    const tails = new Set(pages.map((page) => Math.max(...last(page).map((d) => d ?? 0))));
    expect(shortest).toBeGreaterThan(30);
    expect([...tails]).toEqual([Math.max(...last(pages[0]!).map((d) => d ?? 0))]);
    for (const page of pages) page.close();
  });
});

describe('pages that read nothing more', () => {
  test('cost no memory without end, delay nobody, and are told what they missed', { timeout: 60_000 }, async () => {
    const good = await listenLive(service.address);
    const slow = await listeners(SLOW_CLIENTS);
    for (const page of slow) page.stall();
    // What the kernel's buffers take is not the service's; frames go out until those and the allowance are full.
    const beforeMb = residentMb();
    await fillBuffers();
    const afterMb = residentMb();
    // Half a megabyte of allowance each, and what the collector leaves lying.
    expect(afterMb - beforeMb).toBeLessThan(60);

    good.forget();
    await pause(1000);
    const arrivals = good.frames.filter(({ frame }) => frame.kind === 'readings').map(({ atMs }) => atMs);
    expect(arrivals.length).toBeGreaterThan(15);
    expect(good.frames.some(({ frame }) => frame.kind === 'skipped')).toBe(false);
    const injectedMs = performance.now();
    board.stretch(40, 2.2);
    const { atMs } = await good.state((s) => s.alarms.some((one) => one.sentence.includes('2.2')), 'the new blob');
    expect(atMs - injectedMs).toBeLessThan(1000);

    for (const page of slow) {
      page.resume();
      const { frame } = await page.frame((one) => one.kind === 'skipped', 'that frames were left out');
      expect(frame.kind === 'skipped' && frame.frames).toBeGreaterThan(0);
      // Once, not after every frame that found room again: each time the page fetches its window anew.
      await pause(300);
      expect(page.frames.filter(({ frame: one }) => one.kind === 'skipped')).toHaveLength(1);
      page.forget();
      await page.state((s) => s.alarms.length > 0, 'the state as it stands now');
      page.close();
    }
    good.close();
  });

  /** Every change makes a frame at once, and long notes make it a large one: soon a stalled page has all it is allowed. */
  async function fillBuffers(): Promise<void> {
    for (let i = 0; i < 20; i++) board.note(`${i} ${'calibration table '.repeat(26)}`);
    await until(
      () => service.get<LiveState>('/api/state'),
      (s) => JSON.stringify(s).length > 8000,
      'a large state',
    );
    for (let i = 0; i < 900; i++) {
      await service.send('POST', '/api/stage', { stage: i % 2 === 0 ? null : 'winding' });
    }
  }
});
