/** Many pages at once, many connections one after the other, and pages that were frozen and wake. */
import { readdirSync } from 'node:fs';
import { afterAll, beforeAll, expect, it, vi } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { type LiveListener, listenLive } from '../service/live-listener.ts';
import { type RunningService, startService, until } from '../service/running-service.ts';
import { ScriptedBoard } from '../service/scripted-board.ts';

vi.setConfig({ testTimeout: 180_000, hookTimeout: 120_000 });

const PAGES = 200;
const CONNECTIONS = 1000;
const AT_ONCE = 10;

let board: ScriptedBoard;
let service: RunningService;
const state = () => service.get<LiveState>('/api/state');
const openFiles = () => readdirSync(`/proc/${service.process.pid}/fd`).length;

beforeAll(async () => {
  board = await new ScriptedBoard().start();
  service = await startService({ source: board.source, args: ['--log', 'warn'] });
  await until(state, (s) => s.now.diameterMm !== null && s.link.phase === 'open', 'readings');
  await service.send('POST', '/api/stage', { stage: 'winding' });
  await until(state, (s) => (s.spool?.woundMm ?? 0) > 100, 'strand on the spool');
});
afterAll(async () => {
  await service?.remove();
  await board?.stop();
});

async function openPages(count: number): Promise<LiveListener[]> {
  const pages: LiveListener[] = [];
  while (pages.length < count) {
    const more = Math.min(AT_ONCE, count - pages.length);
    pages.push(...(await Promise.all(Array.from({ length: more }, () => listenLive(service.address)))));
  }
  return pages;
}

it(`${PAGES} pages hear of a blob, and those that were frozen hear of it when they wake`, async () => {
  const pages = await openPages(PAGES);
  const awake = pages.slice(PAGES / 2);
  const frozen = pages.slice(0, PAGES / 2);
  for (const page of frozen) page.stall();
  board.stretch(30, 2.3);
  const isBlob = (s: LiveState) => s.alarms.some(({ type, sentence }) => type === 'blob' && sentence.includes('2.3'));
  await Promise.all(awake.map((page) => page.state(isBlob, 'the blob', 60_000)));
  for (const page of frozen) page.resume();
  await Promise.all(frozen.map((page) => page.state(isBlob, 'the blob after waking', 60_000)));
  for (const page of pages) page.close();
  expect((await service.send('GET', '/ready')).status).toBe(200);
});

it(`${CONNECTIONS} connections one after the other leave nothing open, and no reading is lost`, async () => {
  await until(openFiles, (count) => count < 60, 'the pages before to be closed');
  const before = openFiles();
  for (let i = 0; i < CONNECTIONS; i += AT_ONCE) {
    const pages = await openPages(AT_ONCE);
    for (const page of pages) page.close();
  }
  await until(openFiles, (count) => count <= before + AT_ONCE, 'all connections to be closed');
  const after = await state();
  expect(after.link.lost).toBe(0);
  expect(after.sections.filter(({ kind, fromGaugeMm }) => kind === 'unknown' && fromGaugeMm > 0)).toEqual([]);
  expect((await service.send('GET', '/ready')).status).toBe(200);
  expect(service.output()).not.toMatch(/"level":[56]0/);
});
