import { describe, expect, it } from 'vitest';
import { seeded } from '../chance.ts';
import { Bench } from './intake-bench.ts';

const d = (i: number) => (1.75 + 0.01 * Math.sin(i)).toFixed(3);
const t = (i: number) => (200 + Math.cos(i)).toFixed(1);

/** Each prints a text without a value beside every reading. */
const SKETCHES: Readonly<Record<string, (i: number) => readonly string[]>> = {
  'a rule of dashes after a block': (i) => [`OD: ${d(i)}`, `T: ${t(i)}`, '---'],
  'a title and a rule around a block': (i) => ['== Line 1 ==', `OD: ${d(i)}`, `T: ${t(i)}`, '------------'],
  'a sentence before each line': (i) => ['Reading sensors...', `d=${d(i)} t1=${t(i)}`],
  'a word after each line of columns': (i) => [`${d(i)};${t(i)};200`, 'OK'],
  'a rule above and below each block': (i) => ['-----', `OD: ${d(i)}`, `T: ${t(i)}`, '-----'],
  'a rule above and below a title': (i) => ['=====', 'Line 1', '=====', `OD: ${d(i)}`, `T: ${t(i)}`],
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

  it.each([
    ['every second reading', (i: number) => i % 2 === 0],
    ['two of three readings', (i: number) => i % 3 > 0],
    ['nine of ten readings', (i: number) => i % 10 > 0],
  ])('is counted where it takes the place of %s, also after the connection was lost', (_, fails) => {
    const bench = new Bench();
    for (let i = 0; i < ROUNDS; i++) bench.lines([`d=${d(i)} t1=${t(i)}`]);
    const print = (i: number) => (fails(i) ? `sensor failed ${'abcdefghi'[i % 10]}` : `d=${d(i)} t1=${t(i)}`);
    let failed = 0;
    for (let i = 0; i < 300; i++) {
      if (i % 100 === 0 && i > 0) bench.intake.opened();
      if (fails(i)) failed++;
      bench.lines([print(i)]);
    }
    // The first line after a connection was opened may be incomplete.
    expect(bench.dropped.length).toBeGreaterThanOrEqual(failed - 2);
  });

  it('is counted where it begins to take the place of one of the values of a block', () => {
    const bench = new Bench();
    for (let i = 0; i < ROUNDS; i++) bench.lines([`OD: ${d(i)}`, `T: ${t(i)}`, '---']);
    const before = bench.dropped.length;
    for (let i = 0; i < ROUNDS; i++) bench.lines(['OD: sensor failed', `T: ${t(i)}`, '---']);
    expect(bench.dropped.length - before).toBe(ROUNDS);
  });

  it('is counted where it came out of place from the start, even if it is regular later', () => {
    const bench = new Bench();
    const chance = seeded(7);
    const failed = (i: number) => (i < 200 ? chance() < 0.4 : i % 2 === 0);
    for (let i = 0; i < 200; i++) bench.lines([failed(i) ? 'sensor failed' : `d=${d(i)} t1=${t(i)}`]);
    const before = bench.dropped.length;
    for (let i = 200; i < 300; i++) bench.lines([failed(i) ? 'sensor failed' : `d=${d(i)} t1=${t(i)}`]);
    expect(bench.dropped.length - before).toBe(50);
  });

  it('is still counted when the settings change', () => {
    const bench = new Bench();
    for (let i = 0; i < 2 * ROUNDS; i++)
      bench.lines([i > ROUNDS && i % 2 === 0 ? 'sensor failed' : `d=${d(i)} t1=${t(i)}`]);
    const next = new Bench({ learnt: bench.intake.learnt });
    for (let i = 0; i < ROUNDS; i++) next.lines([i % 2 === 0 ? 'sensor failed' : `d=${d(i)} t1=${t(i)}`]);
    expect(next.dropped.length).toBeGreaterThanOrEqual(ROUNDS / 2 - 1);
  });

  it('is counted where no reading comes between', () => {
    const bench = new Bench();
    for (let i = 0; i < ROUNDS; i++) bench.lines([`d=${d(i)} t1=${t(i)}`]);
    for (let i = 0; i < ROUNDS; i++) bench.lines(['sensor failed']);
    for (let i = 0; i < ROUNDS; i++) bench.lines(['sensor failed', 'please restart']);
    expect(bench.dropped.length).toBe(3 * ROUNDS);
  });
});
