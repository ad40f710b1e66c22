/** The contract of a source, checked on each implementation. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openSource } from '../../server/source/open-source.ts';
import type { Source } from '../../server/source/source.ts';
import { CollectingListener, newResources, openResources, until } from './collecting-listener.ts';
import { PtyCable } from './pty-cable.ts';

const folder: string = mkdtempSync(join(tmpdir(), 'source-contract-'));
const LINES = Array.from({ length: 200 }, (_, i) => `ms=${i * 20} n=${i} d=1.750\n`);
const NOW_MS = 1_700_000_000_000;
const clock = () => NOW_MS;

let server: Server;
let tcpAddress = '';
const cable = new PtyCable(join(folder, 'port'));
const senders: NodeJS.Timeout[] = [];

beforeAll(async () => {
  writeFileSync(join(folder, 'night.log'), LINES.join(''));
  server = createServer((socket) => {
    const timer = setInterval(() => socket.write('d=1.750\n'), 20);
    socket.on('close', () => clearInterval(timer)).on('error', () => {});
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  if (address === null || typeof address === 'string') throw new Error('The server has no port.');
  tcpAddress = `tcp:127.0.0.1:${address.port}`;
  await cable.plugIn();
  senders.push(setInterval(() => cable.send('d=1.750\n'), 20));
});

afterAll(async () => {
  for (const timer of senders) clearInterval(timer);
  await cable.unplug();
  server.close();
  rmSync(folder, { recursive: true });
});

describe.each([
  ['simulator at its own pace', (): string => 'simulator:evening', 'live', false],
  ['simulator as fast as possible', (): string => 'simulator:evening?pace=max', 'recorded', false],
  ['recorded log at its own pace', (): string => `file:${join(folder, 'night.log')}`, 'recorded', false],
  ['recorded log as fast as possible', (): string => `file:${join(folder, 'night.log')}?pace=max`, 'recorded', false],
  ['TCP', (): string => tcpAddress, 'live', true],
  ['serial port', (): string => `serial:${cable.link}`, 'live', true],
] as const)('%s', (_, address, timing, resumable) => {
  async function startAndRead(source: Source): Promise<CollectingListener> {
    const listener = new CollectingListener();
    source.start(listener);
    await until('bytes arrive', () => listener.count('bytes') > 0);
    return listener;
  }

  test('does nothing before it is started, and has a title', async () => {
    const before = openResources();
    const source = openSource(address(), clock);
    await sleep(50);
    // What another test left behind in this process ends by itself.
    await expect.poll(() => newResources(before)).toEqual([]);
    expect(source.title.length).toBeGreaterThan(3);
    expect(source).toMatchObject({ timing, resumable });
    await source.stop();
  });

  test('reports that it is open before the first bytes', async () => {
    const source = openSource(address(), clock);
    const listener = await startAndRead(source);
    await source.stop();
    expect(listener.events.indexOf('opened')).toBeLessThan(listener.events.indexOf('bytes'));
    expect(listener.phases).toContain('open');
    expect(listener.count('opened')).toBe(1);
    for (const { text } of listener.statuses) expect(text).toMatch(/^[A-Z/].*\.$/);
  });

  test('has arrival times by its clock if it is live, and none if it is recorded', async () => {
    const source = openSource(address(), clock);
    const listener = await startAndRead(source);
    await source.stop();
    expect(new Set(listener.arrivals)).toEqual(new Set([timing === 'live' ? NOW_MS : null]));
  });

  test('is silent after a stop, reports that it is closed, and releases everything', async () => {
    const before = openResources();
    const source = openSource(address(), clock);
    const listener = await startAndRead(source);
    await source.stop();
    const events = listener.events.length;
    expect(listener.phases.at(-1)).toMatch(/closed|ended/);
    await until('everything is released', () => newResources(before).length === 0, 2000);
    await sleep(100);
    expect(listener.events.length).toBe(events);
  });

  test('can be stopped directly after the start, twice, and without a start', async () => {
    const before = openResources();
    const source = openSource(address(), clock);
    const listener = new CollectingListener();
    source.start(listener);
    await Promise.all([source.stop(), source.stop()]);
    await openSource(address(), clock).stop();
    const events = listener.events.length;
    await until('everything is released', () => newResources(before).length === 0, 2000);
    await sleep(50);
    expect(listener.events.length).toBe(events);
  });
});
