import { expect, test } from 'vitest';
import { Bench } from './intake-bench.ts';

const header = 'seq dia_in Tz1_F duty1';
const line = (i: number, dia = `0.06${80 + (i % 9)}`) => `${i} ${dia} 39${i % 5} 0.45`;
const lines = (from: number, to: number) => Array.from({ length: to - from }, (_, k) => line(from + k));

/** The damage leaves "n", the name of the line number, of which 0.0685 is implausible. */
function withDamagedHeader(): Bench {
  return new Bench().lines([...lines(0, 10), header, ...lines(10, 90), 'seq n Tz1_F duty1']);
}

test('a header that the cable turned into known names gives way to the true one when that repeats', () => {
  const bench = withDamagedHeader().lines([...lines(90, 100), header, ...lines(100, 120), header, ...lines(120, 140)]);
  expect(bench.signal('dia_in').slice(-20)).toEqual(lines(120, 140).map((one) => Number(one.split(' ')[1])));
});

test('a doubtful line is not believed because of a line that is alike much later', () => {
  const bench = withDamagedHeader().lines([line(90, '0684'), ...lines(91, 150)]);
  const before = bench.readings.length;
  bench.lines([line(150, '00685')]);
  expect(bench.readings.slice(before)).toEqual([]);
});
