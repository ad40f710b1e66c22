import { describe, expect, test } from 'vitest';
import { seeded } from '../chance.ts';
import { Bench, boardLine, boardLines, checked, START_MS } from './intake-bench.ts';

/** The values of all readings, to check that no others are emitted. */
function valuesOf(lines: readonly string[]): Set<string> {
  const bench = new Bench().lines(lines);
  return new Set(bench.readings.map((reading) => JSON.stringify(reading.values)));
}

describe('without checksums, a damaged line', () => {
  const more = ' v=35.2 len=1234.5';
  const good = boardLines(120, 0, () => more);
  const original = boardLine(60, more);

  test('joined from two lines by a reset has a duplicate name and is implausible', () => {
    const spliced = `${original.slice(0, original.indexOf('t1='))}ms=0 n=0 d=1.751 t1=199.9 v=35.2 len=0.0`;
    const bench = new Bench().lines(good.with(60, spliced));
    expect(bench.dropped).toEqual([{ cause: 'implausible', raw: spliced }]);
    expect(bench.readings).toHaveLength(119);
  });

  test('cut and joined anywhere never becomes a measurement with other names', () => {
    for (let cut = 1; cut < original.length; cut++) {
      const start = original.slice(0, cut);
      for (const joined of [start + boardLine(61, more), original.slice(cut), start]) {
        // A value cut off completely is a gap, and the other values are true.
        if (joined.endsWith('=')) continue;
        const bench = new Bench().lines([...good.slice(0, 60), joined, ...good.slice(62)]);
        const incomplete = bench.readings.filter((reading) => reading.values.some(Number.isNaN));
        expect(incomplete.length, joined).toBe(0);
        expect(bench.names, joined).toHaveLength(4);
      }
    }
  });

  test('that lost one byte is dropped, unless the byte was a digit before the point', () => {
    const values = valuesOf(good);
    const missed: string[] = [];
    for (let at = 0; at < original.length; at++) {
      const damaged = original.slice(0, at) + original.slice(at + 1);
      const bench = new Bench().lines(good.with(60, damaged));
      if (bench.readings.some((reading) => !values.has(JSON.stringify(reading.values)))) missed.push(damaged);
    }
    // Only a checksum detects a digit lost before the point of t1 (3), v (2) or len (4). `ms` and `n` jump, and `d` has
    // only one digit there.
    expect(missed.length).toBeLessThanOrEqual(9);
    for (const line of missed) expect(line).toMatch(/d=1\.\d{3} t1=\d+\.\d v=\d+\.\d len=\d+\.\d$/);
  });

  test('with an unusual number of digits is implausible', () => {
    const bench = new Bench().lines(good.with(80, boardLine(80, more).replace(/d=1\.(\d\d)\d/, 'd=1.$1')));
    expect(bench.causes()).toEqual(['implausible']);
    expect(bench.readings).toHaveLength(119);
  });

  test('whose clock or number jumps there and back is implausible and not a restart', () => {
    for (const damaged of [original.replace(/ms=\d+/, 'ms=91200'), original.replace(/n=\d+/, 'n=9160')]) {
      const bench = new Bench().lines(good.with(60, damaged));
      expect(bench.causes()).toEqual(['implausible']);
      expect(bench.intake.counters()).toMatchObject({ readings: 119, restarts: 0, lost: 1 });
    }
  });

  test.each(['n=12.5', 'n=-3', 'ms=9007199254740994', 'f1=1.5e9', 't1=-400', 'd=17521752'])(
    'with an impossible value is implausible: %s',
    (field) => {
      const name = field.slice(0, field.indexOf('=') + 1);
      const damaged = boardLine(5, ' f1=0').replace(new RegExp(`\\b${name}\\S+`), field);
      const bench = new Bench().lines(boardLines(10, 0, () => ' f1=0').with(5, damaged));
      expect(bench.causes()).toEqual(['implausible']);
    },
  );
});

describe('a line that only looks damaged', () => {
  test('has more digits from now on: the next line confirms it, and no line is lost', () => {
    const lines = boardLines(200, 0, (i) => (i < 100 ? ' s1=200' : ' s1=200.5'));
    const bench = new Bench().lines(lines);
    expect(bench.readings).toHaveLength(200);
    expect(bench.signal('s1')[100]).toBe(200.5);
  });

  test('has a field that often changes its number of digits: no line is lost', () => {
    const lines = boardLines(2000, 0, (i) => ` x=${i % 7 === 0 ? '1' : '1.5'}`);
    expect(new Bench().lines(lines).readings).toHaveLength(2000);
  });

  test('jumps and continues from there: no line is lost', () => {
    const lines = [...boardLines(50), ...boardLines(50, 5000), ...boardLines(50, 0)];
    const bench = new Bench().lines(lines);
    expect(bench.readings).toHaveLength(150);
    expect(bench.intake.counters()).toMatchObject({ restarts: 1, lost: 4950 });
  });

  test('comes every two seconds: all are read', () => {
    const lines = Array.from({ length: 30 }, (_, i) => `ms=${i * 2000} n=${i} d=1.751`);
    expect(new Bench().lines(lines).readings).toHaveLength(30);
  });

  test('comes from a board that becomes slow: all but a few are read', () => {
    const slow = Array.from({ length: 30 }, (_, i) => `ms=${2000 + i * 15_000} n=${100 + i} d=1.751 t1=200.0`);
    const bench = new Bench().lines([...boardLines(100), ...slow]);
    expect(bench.readings.length).toBeGreaterThanOrEqual(100 + 30 - 5);
  });

  test('has a line number that never changes: all but a few are read', () => {
    const lines = Array.from({ length: 60 }, (_, i) => `ms=${i * 20} n=7 d=1.751`);
    expect(new Bench().lines(lines).readings.length).toBeGreaterThanOrEqual(55);
  });
});

describe('a new form of line', () => {
  test('is accepted at its third line without a checksum; at the start no line is lost', () => {
    const bench = new Bench().lines(boardLines(2));
    expect(bench.readings).toEqual([]);
    bench.lines(boardLines(1, 2));
    expect(bench.signal('d')).toHaveLength(3);
    expect(bench.readings.map((reading) => reading.timeMs - START_MS)).toEqual([0, 20, 40]);
  });

  test('is accepted at its first line with a checksum at the start, and at its second line later', () => {
    const bench = new Bench().lines(boardLines(1).map(checked));
    expect(bench.readings).toHaveLength(1);
    bench.lines(boardLines(2, 1, () => ' v=35.2').map(checked));
    expect(bench.readings).toHaveLength(2);
    expect(bench.causes()).toEqual(['implausible']);
  });
});

test('with checksums, a cable that damages one byte in a hundred lets almost no false measurement through', () => {
  const random = seeded(20_260_314);
  const good = boardLines(4000, 0, () => ' v=35.2').map(checked);
  const sent = valuesOf(good);
  const noisy = good.map((line) =>
    Array.from(line, (c) => (random() < 0.01 ? String.fromCharCode(Math.floor(random() * 256)) : c)).join(''),
  );
  const bench = new Bench().lines(noisy);
  const falseReadings = bench.readings.filter((reading) => !sent.has(JSON.stringify(reading.values)));
  expect(bench.readings.length).toBeGreaterThan(1500);
  expect(falseReadings.length / noisy.length).toBeLessThan(0.0005);
  expect(bench.intake.counters().restarts).toBe(0);
});
