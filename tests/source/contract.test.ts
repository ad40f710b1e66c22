/** What every source promises, tried on each of them. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { setTimeout as sleep } from 'node:timers/promises';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { openSource } from '../../server/source/open-source.ts';
import type { Source } from '../../server/source/source.ts';
import { Hearer, leftBehind, openThings, until } from './hearer.ts';
import { PtyCable } from './pty-cable.ts';

const folder: string = mkdtempSync(join(tmpdir(), 'source-contract-'));
const LINES = Array.from({ length: 200 }, (_, i) => `ms=${i * 20} n=${i} d=1.750\n`);
const NOW_MS = 1_700_000_000_000;
const clock = () => NOW_MS;

let server: Server;
let tcpAddress = '';
const cable = new PtyCable(join(folder, 'port'));
const talking: NodeJS.Timeout[] = [];

beforeAll(async () => {
  writeFileSync(join(folder, 'night.log'), LINES.join(''));
  server = createServer((socket) => {
    const timer = setInterval(() => socket.write('d=1.750\n'), 20);
    socket.on('close', () => clearInterval(timer)).on('error', () => {});
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const address = server.address();
  if (address === null || typeof address === 'string') throw new Error('the server has no port');
  tcpAddress = `tcp:127.0.0.1:${address.port}`;
  await cable.plugIn();
  talking.push(setInterval(() => cable.send('d=1.750\n'), 20));
});

afterAll(async () => {
  for (const timer of talking) clearInterval(timer);
  await cable.pullOut();
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
  async function heardFrom(source: Source): Promise<Hearer> {
    const hearer = new Hearer();
    source.start(hearer);
    await until('bytes came', () => hearer.count('bytes') > 0);
    return hearer;
  }

  test('does nothing before it is started, and says what it is', async () => {
    const before = openThings();
    const source = openSource(address(), clock);
    await sleep(50);
    expect(leftBehind(before)).toEqual([]);
    expect(source.title.length).toBeGreaterThan(3);
    expect(source).toMatchObject({ timing, resumable });
    await source.stop();
  });

  test('says "opened" before the first bytes, and that it is open', async () => {
    const source = openSource(address(), clock);
    const hearer = await heardFrom(source);
    await source.stop();
    expect(hearer.events.indexOf('opened')).toBeLessThan(hearer.events.indexOf('bytes'));
    expect(hearer.phases).toContain('open');
    expect(hearer.count('opened')).toBe(1);
    for (const { text } of hearer.statuses) expect(text).toMatch(/^[A-Z/].*\.$/);
  });

  test('stamps what is live with the clock it was given, and leaves what is recorded to the device', async () => {
    const source = openSource(address(), clock);
    const hearer = await heardFrom(source);
    await source.stop();
    expect(new Set(hearer.arrivals)).toEqual(new Set([timing === 'live' ? NOW_MS : null]));
  });

  test('once stopped it is silent, says that it is closed, and leaves nothing behind', async () => {
    const before = openThings();
    const source = openSource(address(), clock);
    const hearer = await heardFrom(source);
    await source.stop();
    const said = hearer.events.length;
    expect(hearer.phases.at(-1)).toMatch(/closed|ended/);
    await until('everything is closed', () => leftBehind(before).length === 0, 2000);
    await sleep(100);
    expect(hearer.events.length).toBe(said);
  });

  test('can be stopped at once after the start, twice, and without a start', async () => {
    const before = openThings();
    const source = openSource(address(), clock);
    const hearer = new Hearer();
    source.start(hearer);
    await Promise.all([source.stop(), source.stop()]);
    await openSource(address(), clock).stop();
    const said = hearer.events.length;
    await until('everything is closed', () => leftBehind(before).length === 0, 2000);
    await sleep(50);
    expect(hearer.events.length).toBe(said);
  });
});
