import { describe, expect, test } from 'vitest';
import { Bench, boardLines, checked, START_MS } from './take-in.ts';

/** What a line with that clock and number is worth, to see that only such values come out. */
function valuesOf(lines: readonly string[]): Set<string> {
  const bench = new Bench().lines(lines);
  return new Set(bench.readings.map((reading) => JSON.stringify(reading.values)));
}

/** Numbers from a seed, so that a failure repeats (Park and Miller's minimal standard generator). */
function randomFrom(seed: number): () => number {
  let state = seed;
  return () => {
    state = (state * 48_271) % 2_147_483_647;
    return state / 2_147_483_647;
  };
}

describe('without checksums, a spoilt line', () => {
  const good = boardLines(120, 0, () => ' v=35.2 len=1234.5');

  test('in which two lines are spliced by a reset names a name twice, and is implausible', () => {
    const spliced = `${good[60]!.slice(0, good[60]!.indexOf('t1='))}ms=0 n=0 d=1.751 t1=199.9 v=35.2 len=0.0`;
    const bench = new Bench().lines([...good.slice(0, 60), spliced, ...good.slice(61)]);
    expect(bench.dropped).toEqual([{ cause: 'implausible', raw: spliced }]);
    expect(bench.readings).toHaveLength(119);
  });

  test('cut and glued anywhere never becomes a measurement with other names than always', () => {
    for (let cut = 1; cut < good[60]!.length; cut++) {
      for (const glued of [good[60]!.slice(0, cut) + good[61]!, good[60]!.slice(cut), good[60]!.slice(0, cut)]) {
        // A value of which nothing is left is a gap, and the others are true.
        if (glued.endsWith('=')) continue;
        const bench = new Bench().lines([...good.slice(0, 60), glued, ...good.slice(62)]);
        const strange = bench.readings.filter((reading) => reading.values.some(Number.isNaN));
        expect(strange.length, glued).toBe(0);
        expect(bench.intake.layout!.channels, glued).toHaveLength(4);
      }
    }
  });

  test('that lost any one byte is dropped, or is seen to differ in nothing but a digit before the point', () => {
    const values = valuesOf(good);
    const through: string[] = [];
    for (let at = 0; at < good[60]!.length; at++) {
      const spoilt = good[60]!.slice(0, at) + good[60]!.slice(at + 1);
      const bench = new Bench().lines([...good.slice(0, 60), spoilt, ...good.slice(61)]);
      if (bench.readings.some((reading) => !values.has(JSON.stringify(reading.values)))) through.push(spoilt);
    }
    // Only a checksum can see these: a digit lost before the point of t1 (3), v (2) or len (4), in a field with as many
    // digits behind the point as always. `ms` and `n` are caught by their jump, `d` by its single digit.
    expect(through.length).toBeLessThanOrEqual(9);
    for (const line of through) expect(line).toMatch(/d=1\.\d{3} t1=\d+\.\d v=\d+\.\d len=\d+\.\d$/);
  });

  test('whose number of digits changes for one line only is implausible', () => {
    const spoilt = good[80]!.replace(/d=1\.(\d\d)\d/, 'd=1.$1');
    const bench = new Bench().lines([...good.slice(0, 80), spoilt, ...good.slice(81)]);
    expect(bench.causes()).toEqual(['implausible']);
    expect(bench.readings).toHaveLength(119);
  });

  test('whose clock or number jumps there and back is implausible, and no restart', () => {
    for (const spoilt of [good[60]!.replace(/ms=\d+/, 'ms=91200'), good[60]!.replace(/n=\d+/, 'n=9160')]) {
      const bench = new Bench().lines([...good.slice(0, 60), spoilt, ...good.slice(61)]);
      expect(bench.causes()).toEqual(['implausible']);
      expect(bench.intake.counters()).toMatchObject({ readings: 119, restarts: 0, lost: 1 });
    }
  });

  test.each(['n=12.5', 'n=-3', 'ms=4294967296', 'f1=1.5e9', 't1=-400', 'd=17521752'])(
    'that says what cannot be is implausible: %s',
    (field) => {
      const name = field.slice(0, field.indexOf('=') + 1);
      const lines = boardLines(10, 0, () => ' f1=0');
      const spoilt = lines[5]!.replace(new RegExp(`\\b${name}\\S+`), field);
      const bench = new Bench().lines([...lines.slice(0, 5), spoilt, ...lines.slice(6)]);
      expect(bench.causes()).toEqual(['implausible']);
    },
  );
});

describe('what only looks like a spoilt line', () => {
  test('a print that has more digits from now on is borne out by the next line, and no line is lost', () => {
    const lines = boardLines(200, 0, (i) => (i < 100 ? ' s1=200' : ' s1=200.5'));
    const bench = new Bench().lines(lines);
    expect(bench.readings).toHaveLength(200);
    expect(bench.channel('s1')[100]).toBe(200.5);
  });

  test('a field that often changes its number of digits is soon left in peace', () => {
    const lines = boardLines(2000, 0, (i) => ` x=${i % 7 === 0 ? '1' : '1.5'}`);
    expect(new Bench().lines(lines).readings).toHaveLength(2000);
  });

  test('a real jump costs no line', () => {
    const lines = [...boardLines(50), ...boardLines(50, 5000), ...boardLines(50, 0)];
    const bench = new Bench().lines(lines);
    expect(bench.readings).toHaveLength(150);
    expect(bench.intake.counters()).toMatchObject({ restarts: 1, lost: 4950 });
  });

  test('a slow board, one line in two seconds, is read from the first line', () => {
    const lines = Array.from({ length: 30 }, (_, i) => `ms=${i * 2000} n=${i} d=1.751`);
    expect(new Bench().lines(lines).readings).toHaveLength(30);
  });

  test('a board that becomes slow is believed after a few lines', () => {
    const slow = Array.from({ length: 30 }, (_, i) => `ms=${2000 + i * 15_000} n=${100 + i} d=1.751 t1=200.0`);
    const bench = new Bench().lines([...boardLines(100), ...slow]);
    expect(bench.readings.length).toBeGreaterThanOrEqual(100 + 30 - 5);
  });

  test('a line number that never changes is no reason to drop lines for long', () => {
    const lines = Array.from({ length: 60 }, (_, i) => `ms=${i * 20} n=7 d=1.751`);
    expect(new Bench().lines(lines).readings.length).toBeGreaterThanOrEqual(55);
  });
});

describe('a new form of line', () => {
  test('without a checksum waits for its third sight; at the beginning no line is lost by that', () => {
    const bench = new Bench().lines(boardLines(2));
    expect(bench.readings).toEqual([]);
    bench.lines(boardLines(1, 2));
    expect(bench.channel('d')).toHaveLength(3);
    expect(bench.readings.map((reading) => reading.timeMs - START_MS)).toEqual([0, 20, 40]);
  });

  test('with a checksum is believed at once at the beginning, and at its second sight later', () => {
    const bench = new Bench().lines(boardLines(1).map(checked));
    expect(bench.readings).toHaveLength(1);
    bench.lines(boardLines(2, 1, () => ' v=35.2').map(checked));
    expect(bench.readings).toHaveLength(2);
    expect(bench.causes()).toEqual(['implausible']);
  });
});

test('a cable that spoils one byte in a hundred lets through no measurement that was not sent, where there are checksums', () => {
  const random = randomFrom(20_260_314);
  const good = boardLines(4000, 0, () => ' v=35.2').map(checked);
  const sent = valuesOf(good);
  const noisy = good.map((line) =>
    Array.from(line, (c) => (random() < 0.01 ? String.fromCharCode(Math.floor(random() * 256)) : c)).join(''),
  );
  const bench = new Bench().lines(noisy);
  const strange = bench.readings.filter((reading) => !sent.has(JSON.stringify(reading.values)));
  expect(bench.readings.length).toBeGreaterThan(1500);
  expect(strange.length / noisy.length).toBeLessThan(0.0005);
  expect(bench.intake.counters().restarts).toBe(0);
});
