import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { fileSource } from '../../server/source/file-source.ts';
import { RecordedPace } from '../../server/source/recorded-pace.ts';
import type { Pace } from '../../server/source/source-address.ts';
import { CollectingListener, until } from './collecting-listener.ts';

const folder = mkdtempSync(join(tmpdir(), 'file-source-'));
afterAll(() => rmSync(folder, { recursive: true }));

/** Replay a log to its end. @returns its events and the seconds it took */
async function replay(content: string, pace: Pace): Promise<{ listener: CollectingListener; seconds: number }> {
  const path = join(folder, 'replayed.log');
  writeFileSync(path, content, 'latin1');
  const listener = new CollectingListener();
  const source = fileSource({ path, pace });
  const startMs = performance.now();
  source.start(listener);
  await until('the log has ended', () => listener.phases.includes('ended'));
  const seconds = (performance.now() - startMs) / 1000;
  await source.stop();
  return { listener, seconds };
}

const lines = (count: number, line: (i: number) => string) =>
  Array.from({ length: count }, (_, i) => `${line(i)}\n`).join('');

describe('a recorded log', () => {
  test.each([1, 5, 'max'] as const)('is replayed completely at pace %s', async (pace) => {
    const content = lines(60, (i) => `ms=${i * 20} n=${i} d=1.750`);
    const { listener } = await replay(content, pace);
    expect(listener.text).toBe(content);
    expect(listener.statuses.at(-1)?.text).toMatch(/has been read to its end/);
  });

  test.each([
    ['its ms', 1, (i: number) => `ms=${9000 + i * 20} d=1.750`, 1.98],
    ['its us', 1, (i: number) => `us=${9_000_000 + i * 20_000} d=1.750`, 1.98],
    ['ms in JSON', 2, (i: number) => `{"ms":${i * 20},"d":1.75}`, 0.99],
    ['the nominal rate if it has no clock', 2, () => 'd=1.750', 0.99],
    ['a multiple of its pace', 10, (i: number) => `ms=${i * 200} d=1.750`, 1.98],
  ] as const)('is replayed by %s', async (_, pace, line, expectedS) => {
    const { seconds } = await replay(lines(100, line), pace);
    expect(seconds).toBeGreaterThan(expectedS - 0.05);
    expect(seconds).toBeLessThan(expectedS + 1);
  });

  test('is replayed by the given rate if it has no clock', () => {
    const pace = new RecordedPace(10);
    for (let i = 0; i < 11; i++) pace.next('d=1.750');
    expect(pace.dueMs).toBeCloseTo(1000, 9);
  });

  test('is replayed as fast as possible while timers still run', async () => {
    const content = lines(150_000, (i) => `ms=${i * 20} d=1.750`);
    let ticks = 0;
    const timer = setInterval(() => ticks++, 1);
    const { listener, seconds } = await replay(content, 'max');
    clearInterval(timer);
    expect(listener.text.length).toBe(content.length);
    expect(seconds).toBeLessThan(3);
    expect(ticks).toBeGreaterThan(3);
  });

  test('has its last line completed only if that ends in a checksum', async () => {
    expect((await replay('d=1.750\nd=1.7', 'max')).listener.text).toBe('d=1.750\nd=1.7');
    expect((await replay('d=1.750\nd=1.75*0B', 'max')).listener.text).toBe('d=1.750\nd=1.75*0B\n');
    expect((await replay('d=1.750\nd=1.75*0B', 1)).listener.text).toBe('d=1.750\nd=1.75*0B\n');
  });

  test('ends immediately if it is empty', async () => {
    const { listener } = await replay('', 1);
    expect(listener.phases).toEqual(['opening', 'open', 'ended']);
  });

  test('ends with a reason if it was deleted before the start', async () => {
    const path = join(folder, 'gone.log');
    writeFileSync(path, 'd=1.75\n');
    const source = fileSource({ path, pace: 'max' });
    rmSync(path);
    const listener = new CollectingListener();
    source.start(listener);
    await until('it has ended', () => listener.phases.includes('ended'));
    expect(listener.statusText).toMatch(/Cannot replay .*gone\.log: there is no such file\./);
    await source.stop();
  });
});

describe('the pace of a log', () => {
  const dueOf = (all: readonly string[]) => {
    const pace = new RecordedPace();
    return all.map((line) => {
      pace.next(line);
      return pace.dueMs;
    });
  };

  test('shortens a gap to five seconds', () => {
    expect(dueOf(['ms=0', 'ms=20', 'ms=3600000', 'ms=3600020'])).toEqual([0, 20, 5020, 5040]);
  });

  test('takes one period for a restart', () => {
    expect(dueOf(['ms=90000', 'ms=90020', '# board', 'ms=5', 'ms=25'])).toEqual([0, 20, 20, 40, 60]);
  });

  test('does not take a name that only ends in ms for the clock', () => {
    expect(dueOf(['rms=5', 'rms=9000'])).toEqual([0, 20]);
  });
});
