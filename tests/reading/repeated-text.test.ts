import { describe, expect, it } from 'vitest';
import { Bench } from './intake-bench.ts';

const d = (i: number) => (1.75 + 0.01 * Math.sin(i)).toFixed(3);
const t = (i: number) => (200 + Math.cos(i)).toFixed(1);

/** Each prints a text without a value beside every reading. */
const SKETCHES: Readonly<Record<string, (i: number) => readonly string[]>> = {
  'a rule of dashes after a block': (i) => [`OD: ${d(i)}`, `T: ${t(i)}`, '---'],
  'a title and a rule around a block': (i) => ['== Line 1 ==', `OD: ${d(i)}`, `T: ${t(i)}`, '------------'],
  'a sentence before each line': (i) => ['Reading sensors...', `d=${d(i)} t1=${t(i)}`],
  'a word after each line of columns': (i) => [`${d(i)};${t(i)};200`, 'OK'],
  'a word after each line of JSON': (i) => [`{"d":${d(i)},"t1":${t(i)}}`, 'sent'],
};

const ROUNDS = 60;

describe('a text without a value that comes again and again at the same place', () => {
  it.each(Object.entries(SKETCHES))('is no damage: %s', (_, print) => {
    const bench = new Bench();
    for (let i = 0; i < ROUNDS; i++) bench.lines(print(i));
    expect(bench.readings.length).toBeGreaterThan(ROUNDS * 0.8);
    const late = bench.dropped.length;
    expect(late).toBeLessThan(12);
    for (let i = ROUNDS; i < 2 * ROUNDS; i++) bench.lines(print(i));
    expect(bench.dropped.length).toBe(late);
    expect(bench.intake.counters().received).toBe(2 * ROUNDS * print(0).length);
  });

  it('goes on being none when a line is lost', () => {
    const bench = new Bench();
    for (let i = 0; i < ROUNDS; i++) bench.lines([`OD: ${d(i)}`, `T: ${t(i)}`, '---']);
    const before = bench.dropped.length;
    for (let i = ROUNDS; i < 2 * ROUNDS; i++)
      bench.lines([`OD: ${d(i)}`, ...(i % 7 === 0 ? [] : [`T: ${t(i)}`]), '---']);
    expect(bench.dropped.length).toBe(before);
  });

  it('is counted where it comes in place of readings', () => {
    const bench = new Bench();
    for (let i = 0; i < ROUNDS; i++) bench.lines([`d=${d(i)} t1=${t(i)}`]);
    let errors = 0;
    for (let i = 0; i < 300; i++) {
      const failed = (i * 7919) % 13 < 6;
      if (failed) errors++;
      bench.lines([failed ? 'sensor failed' : `d=${d(i)} t1=${t(i)}`]);
    }
    expect(errors).toBeGreaterThan(100);
    expect(bench.dropped.length).toBeGreaterThan(errors / 2);
  });

  it('is counted where it names a field, whose value it takes the place of', () => {
    const bench = new Bench();
    for (let i = 0; i < ROUNDS; i++) bench.lines([`OD: ${d(i)}`, `T: ${t(i)}`]);
    for (let i = ROUNDS; i < 2 * ROUNDS; i++) bench.lines([i % 2 === 0 ? 'OD: error' : `OD: ${d(i)}`, `T: ${t(i)}`]);
    expect(bench.dropped.length).toBe(ROUNDS / 2);
  });

  it('is counted where no reading comes between', () => {
    const bench = new Bench();
    for (let i = 0; i < ROUNDS; i++) bench.lines([`d=${d(i)} t1=${t(i)}`]);
    for (let i = 0; i < ROUNDS; i++) bench.lines(['sensor failed']);
    for (let i = 0; i < ROUNDS; i++) bench.lines(['sensor failed', 'please restart']);
    expect(bench.dropped.length).toBe(3 * ROUNDS);
  });
});
