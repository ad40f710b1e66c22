/** More names than a layout holds: a noisy night leaves them, and then a new sketch is flashed. */
import { expect, it } from 'vitest';
import { Bench, START_MS } from './intake-bench.ts';

const HOUR_MS = 3_600_000;

/** Three lines of the same form confirm it. */
function send(bench: Bench, fields: string, atMs: number): void {
  for (let i = 0; i < 5; i++) bench.text(`d=1.75 ${fields}\n`, atMs + i * 20);
}

function filled(): Bench {
  const bench = new Bench();
  for (let i = 0; i < 130; i++) send(bench, `old${i}=${i} old${i}b=${i}`, START_MS + i * 200);
  expect(bench.names.length).toBeGreaterThan(120);
  return bench;
}

it('names that were not sent for a day make room for those of a new sketch, and it is said', () => {
  const bench = filled();
  const full = bench.names.length;
  const early = bench.readings.length;
  send(bench, 'fresh=3', START_MS + HOUR_MS);
  expect([bench.names.includes('fresh'), bench.readings.length - early]).toEqual([false, 0]);

  // A name that is still sent keeps its column all day.
  for (let hour = 1; hour < 26; hour++) send(bench, 'old0=5 old0b=6', START_MS + hour * HOUR_MS);
  const column = bench.names.indexOf('old0');
  send(bench, 'fresh=3 other=4', START_MS + 26 * HOUR_MS);
  expect(bench.reading(-1).values[bench.names.indexOf('fresh')]).toBe(3);
  expect(bench.reading(-1).values[bench.names.indexOf('other')]).toBe(4);
  expect(bench.names.indexOf('old0')).toBe(column);
  expect(new Set(bench.names).size).toBe(bench.names.length);
  expect(bench.names.length).toBe(full);
  expect(bench.forgotten).toEqual(['old1', 'old1b']);

  // One of the forgotten comes again: it takes another column, not that of its successor.
  send(bench, 'old1=7 old1b=8', START_MS + 26 * HOUR_MS + 60_000);
  const last = bench.reading(-1);
  expect(last.values[bench.names.indexOf('old1')]).toBe(7);
  expect(last.values[bench.names.indexOf('fresh')] ?? Number.NaN).toBeNaN();
});

it('a signal with a role is never forgotten', () => {
  const bench = new Bench();
  for (let i = 0; i < 5; i++) bench.text('d=1.75 t1=200\n', START_MS + i * 20);
  for (let i = 0; i < 130; i++) send(bench, `old${i}=${i} old${i}b=${i}`, START_MS + 1000 + i * 200);
  for (let i = 0; i < 130; i++) send(bench, `new${i}=${i}`, START_MS + 26 * HOUR_MS + i * 200);
  expect(bench.names.slice(0, 2)).toEqual(['d', 't1']);
});
