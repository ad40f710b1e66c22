import { describe, expect, test } from 'vitest';
import { Bench } from './intake-bench.ts';

const line = (i: number) => `D1.7${40 + (i % 9)} N20${i % 4}.2 W98`;

describe('a known form of free text', () => {
  test('does not read the last digits of a number as another one after a digit turned into a blank', () => {
    const damaged = line(1).replace('N20', 'N2 ');
    const bench = new Bench().lines(Array.from({ length: 20 }, (_, i) => line(i)));
    for (let k = 0; k < 10; k++) bench.lines([damaged, line(k), line(k + 1)]);
    expect(bench.names).toContain('N');
    const wrong = bench.readings.filter(({ layout, values }) =>
      layout.signals.some(({ name }, k) => name === 'N2' && (values[k] ?? 0) !== 1.2 && !Number.isNaN(values[k])),
    );
    expect(wrong).toEqual([]);
  });

  test.each([
    ['Zone1 200.3 C Zone2 210.5 C', 'Zone10.3 C Zone2 210.5 C'],
    ['T approx. 5 rpm 12', 'T approx.5 rpm 12'],
    ['pull - 5 rpm 12', 'pull -5 rpm 12'],
  ])('of “%s” does not fit “%s”', (whole, damaged) => {
    const bench = new Bench().lines(Array.from({ length: 20 }, () => whole));
    const before = bench.readings.length;
    bench.lines([damaged]);
    expect(bench.readings.length).toBe(before);
    bench.lines([whole]);
    expect(bench.readings.length).toBe(before + 1);
  });

  test('fits with fewer blanks before a number that touches no digit', () => {
    const bench = new Bench().lines(Array.from({ length: 20 }, () => 'dia=  1.75 temp: 98.5'));
    const before = bench.readings.length;
    bench.lines(['dia=1.75 temp:198.5']);
    expect(bench.readings.length).toBe(before + 1);
  });
});
