import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, describe, expect, test } from 'vitest';
import { fileSource } from '../../server/source/file-source.ts';
import { RecordedPace } from '../../server/source/recorded-pace.ts';
import type { Pace } from '../../server/source/source-address.ts';
import { Hearer, until } from './hearer.ts';

const folder = mkdtempSync(join(tmpdir(), 'file-source-'));
afterAll(() => rmSync(folder, { recursive: true }));

/** Replay a log to its end. @returns what was heard, and how many seconds it took */
async function replay(content: string, pace: Pace): Promise<{ hearer: Hearer; seconds: number }> {
  const path = join(folder, 'replayed.log');
  writeFileSync(path, content, 'latin1');
  const hearer = new Hearer();
  const source = fileSource({ path, pace });
  const startMs = performance.now();
  source.start(hearer);
  await until('the log has ended', () => hearer.phases.includes('ended'));
  const seconds = (performance.now() - startMs) / 1000;
  await source.stop();
  return { hearer, seconds };
}

const lines = (count: number, line: (i: number) => string) =>
  Array.from({ length: count }, (_, i) => `${line(i)}\n`).join('');

describe('a recorded log', () => {
  test.each([1, 5, 'max'] as const)('comes whole at pace %s', async (pace) => {
    const content = lines(60, (i) => `ms=${i * 20} n=${i} d=1.750`);
    const { hearer } = await replay(content, pace);
    expect(hearer.text).toBe(content);
    expect(hearer.statuses.at(-1)!.text).toMatch(/has been read to its end/);
  });

  test.each([
    ['its ms', 1, (i: number) => `ms=${9000 + i * 20} d=1.750`, 1.98],
    ['its us', 1, (i: number) => `us=${9_000_000 + i * 20_000} d=1.750`, 1.98],
    ['ms in JSON', 2, (i: number) => `{"ms":${i * 20},"d":1.75}`, 0.99],
    ['the nominal rate where it has no clock', 2, () => 'd=1.750', 0.99],
    ['a multiple of its pace', 10, (i: number) => `ms=${i * 200} d=1.750`, 1.98],
  ] as const)('runs by %s', async (_, pace, line, expectedS) => {
    const { seconds } = await replay(lines(100, line), pace);
    expect(seconds).toBeGreaterThan(expectedS - 0.05);
    expect(seconds).toBeLessThan(expectedS + 1);
  });

  test('runs by the rate that was given where it has no clock', () => {
    const pace = new RecordedPace(10);
    for (let i = 0; i < 11; i++) pace.next('d=1.750');
    expect(pace.dueMs).toBeCloseTo(1000, 9);
  });

  test('as fast as possible, three megabytes are through in a blink while timers still run', async () => {
    const content = lines(150_000, (i) => `ms=${i * 20} d=1.750`);
    let ticks = 0;
    const timer = setInterval(() => ticks++, 1);
    const { hearer, seconds } = await replay(content, 'max');
    clearInterval(timer);
    expect(hearer.text.length).toBe(content.length);
    expect(seconds).toBeLessThan(3);
    expect(ticks).toBeGreaterThan(3);
  });

  test('a last line without its end may be cut, and is not completed; with a checksum it is', async () => {
    expect((await replay('d=1.750\nd=1.7', 'max')).hearer.text).toBe('d=1.750\nd=1.7');
    expect((await replay('d=1.750\nd=1.75*0B', 'max')).hearer.text).toBe('d=1.750\nd=1.75*0B\n');
    expect((await replay('d=1.750\nd=1.75*0B', 1)).hearer.text).toBe('d=1.750\nd=1.75*0B\n');
  });

  test('an empty log ends at once', async () => {
    const { hearer } = await replay('', 1);
    expect(hearer.phases).toEqual(['opening', 'open', 'ended']);
  });

  test('a log that vanishes before the start ends in words', async () => {
    const path = join(folder, 'gone.log');
    writeFileSync(path, 'd=1.75\n');
    const source = fileSource({ path, pace: 'max' });
    rmSync(path);
    const hearer = new Hearer();
    source.start(hearer);
    await until('it has ended', () => hearer.phases.includes('ended'));
    expect(hearer.statusText).toMatch(/Cannot replay .*gone\.log: there is no such file\./);
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

  test('a gap is not sat through for longer than five seconds', () => {
    expect(dueOf(['ms=0', 'ms=20', 'ms=3600000', 'ms=3600020'])).toEqual([0, 20, 5020, 5040]);
  });

  test('a restart takes one period', () => {
    expect(dueOf(['ms=90000', 'ms=90020', '# board', 'ms=5', 'ms=25'])).toEqual([0, 20, 20, 40, 60]);
  });

  test('a name that only ends in ms is no clock', () => {
    expect(dueOf(['rms=5', 'rms=9000'])).toEqual([0, 20]);
  });
});
