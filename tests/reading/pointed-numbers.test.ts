import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { PointedNumbers } from '../../server/reading/pointed-numbers.ts';
import { tries } from '../long-check.ts';
import { Bench } from './intake-bench.ts';

const picked = (line: string, words: readonly string[]): string => {
  const pointed = new PointedNumbers(words);
  const bytes = Buffer.from(line);
  pointed.pick(bytes, 0, bytes.length);
  return Buffer.from(pointed.bytes.subarray(pointed.start, pointed.end)).toString();
};

/** Every line has other words, so nothing but the word before a number says what it is. */
const words = (i: number) => ((i * 2654435761) >>> 0).toString(36).replace(/\d/g, 'z');
const line = (i: number) =>
  `${words(i)} dia ${(1.75 + (i % 5) / 1000).toFixed(3)} ${words(i + 7)} temp=${190 + (i % 9)} C`;

describe('numbers that a user pointed at', () => {
  it.each([
    ['Tue, fine: adc 787, hum 41', ['adc'], 'adc 787'],
    ['temp=198.8C, so dia: 1,752', ['dia', 'temp'], 'dia 1,752 temp 198.8'],
    ['Größe 1.75', ['Größe'], 'Größe 1.75'],
    ['offset -0.03', ['offset'], 'offset -0.03'],
    ['dia 1.75e0 mm', ['dia'], 'dia 1.75e0'],
    // Within another word, without a number behind it, or torn.
    ['badc 787', ['adc'], ''],
    ['adc: none, hum 41', ['adc'], ''],
    ['adc 78#7', ['adc'], ''],
    ['adc 1.75.2', ['adc'], ''],
    ['adc787', ['adc'], ''],
    // Two lines joined into one.
    ['adc 787 hum 41adc 788 hum 41, adc 789', ['adc'], ''],
  ])('of “%s” with %j are “%s”', (text, pointedAt, left) => {
    expect(picked(text, pointedAt)).toBe(left);
  });

  it('become readings although no other word ever comes again', () => {
    const lines = Array.from({ length: 60 }, (_, i) => line(i));
    expect(new Bench().lines(lines).readings).toHaveLength(0);
    const bench = new Bench({ pointedAt: ['dia', 'temp'] }).lines(lines);
    expect(bench.readings.length).toBeGreaterThan(50);
    expect(bench.names).toEqual(['dia', 'temp']);
    expect(bench.intake.shape).toBe('text');
    expect(bench.signal('dia').slice(-5)).toEqual([55, 56, 57, 58, 59].map((i) => 1.75 + (i % 5) / 1000));
  });

  it('leave lines without them out, as unreadable', () => {
    const lines = Array.from({ length: 40 }, (_, i) => (i % 4 === 3 ? `${words(i)} said ${i}` : line(i)));
    const bench = new Bench({ pointedAt: ['dia'] }).lines(lines);
    expect(new Set(bench.dropped.map(({ cause }) => cause))).toEqual(new Set(['unreadable']));
    expect(bench.dropped.every(({ raw }) => raw.includes(' said '))).toBe(true);
    expect(bench.names).toEqual(['dia']);
  });

  it('give the same readings however the bytes are split', () => {
    const bytes = Buffer.from(Array.from({ length: 30 }, (_, i) => `${line(i)}\n`).join(''));
    const whole = new Bench({ pointedAt: ['dia', 'temp'] }).bytes(bytes).readings;
    fc.assert(
      fc.property(fc.array(fc.integer({ min: 1, max: 40 }), { minLength: 1 }), (steps) => {
        const bench = new Bench({ pointedAt: ['dia', 'temp'] });
        for (let at = 0, k = 0; at < bytes.length; k++) {
          const step = steps[k % steps.length]!;
          bench.bytes(bytes.subarray(at, at + step));
          at += step;
        }
        expect(bench.readings).toEqual(whole);
      }),
      { numRuns: tries(50) },
    );
  });

  it('are never invented by damage: what is read stands behind its word in the line', () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 0, max: 1000 }),
        fc.array(fc.tuple(fc.nat(60), fc.integer({ min: 32, max: 126 })), { minLength: 1, maxLength: 3 }),
        (i, flips) => {
          const bytes = Buffer.from(line(i));
          for (const [at, byte] of flips) bytes[at % bytes.length] = byte;
          const text = bytes.toString();
          const found = /^dia (\S+)$/.exec(picked(text, ['dia']));
          if (found === null) return;
          const escaped = found[1]!.replace(/[.+]/g, '\\$&');
          expect(text).toMatch(new RegExp(`(?<![\\w])dia[ :=]+${escaped}(?![\\d#])`));
        },
      ),
      { numRuns: tries(3000, 1 / 5) },
    );
  });
});
