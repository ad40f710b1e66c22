import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Bench, boardLine, boardLines, checked, START_MS } from './intake-bench.ts';

const range = (from: number, to: number) => boardLines(to - from, from);

describe('the checksum', () => {
  test('is optional before twenty correct ones in a row', () => {
    const bench = new Bench().lines([...range(0, 19).map(checked), ...range(19, 20)]);
    expect(bench.readings).toHaveLength(20);
    expect(bench.intake.checksum).toBe('optional');
  });

  test('is required after twenty correct ones in a row', () => {
    const bench = new Bench().lines([...range(0, 20).map(checked), ...range(20, 21)]);
    expect(bench.intake.checksum).toBe('required');
    expect(bench.readings).toHaveLength(20);
    expect(bench.causes()).toEqual(['noChecksum']);
  });

  test('is counted from one again after a line without it', () => {
    const bench = new Bench().lines([...range(0, 19).map(checked), ...range(19, 20), ...range(20, 39).map(checked)]);
    expect(bench.intake.checksum).toBe('optional');
  });

  test('always drops the line if it is wrong', () => {
    const bad = `${boardLine(2)}*00`;
    const bench = new Bench().lines([...range(0, 2).map(checked), bad, ...range(3, 5).map(checked)]);
    expect(bench.causes()).toEqual(['badChecksum']);
    expect(bench.readings).toHaveLength(4);
    expect(bench.intake.counters()).toMatchObject({ lost: 1, readings: 4 });
  });

  test('is required from the first line if set so', () => {
    const bench = new Bench({ checksum: 'required' }).lines([...range(0, 3), ...range(3, 6).map(checked)]);
    expect(bench.causes()).toEqual(['noChecksum', 'noChecksum', 'noChecksum']);
    expect(bench.readings).toHaveLength(3);
  });

  test('may have lower-case hex digits', () => {
    const bench = new Bench().lines(
      range(0, 8).map((line) => checked(line).replace(/\*..$/, (sum) => sum.toLowerCase())),
    );
    expect(bench.readings).toHaveLength(8);
  });

  test('is reported as "none" before a line has one', () => {
    expect(new Bench().lines(range(0, 30)).intake.checksum).toBe('none');
  });

  test('is optional again after a new connection and twenty lines in a row without it', () => {
    const bench = new Bench().lines(range(0, 25).map(checked), START_MS);
    bench.intake.opened();
    // The first line may be incomplete and is ignored, the next nineteen are dropped, the twentieth is read.
    bench.lines(range(25, 55), START_MS + 600);
    expect(bench.intake.counters().dropped.noChecksum).toBe(19);
    expect(bench.readings).toHaveLength(25 + 10);
  });

  test('stays required within a connection', () => {
    const bench = new Bench().lines([...range(0, 25).map(checked), ...range(25, 80)]);
    expect(bench.readings).toHaveLength(25);
  });

  test('keeps garbage between lines from changing any value', () => {
    const good = range(0, 40).map(checked);
    const clean = new Bench().lines(good);
    const garbage = fc.array(fc.uint8Array({ minLength: 0, maxLength: 700 }), { minLength: 1, maxLength: 12 });
    fc.assert(
      fc.property(garbage, fc.array(fc.nat(19), { minLength: 12, maxLength: 12 }), (pieces, places) => {
        // The checksum is required from the 21st line on, so the garbage starts there.
        const bench = new Bench().lines(good.slice(0, 20));
        for (const [i, line] of good.slice(20).entries()) {
          pieces.forEach((piece, k) => {
            if (places[k] === i) bench.bytes(piece).text('\n');
          });
          bench.lines([line]);
        }
        expect(bench.readings.map((reading) => reading.values)).toEqual(
          clean.readings.map((reading) => reading.values),
        );
        expect(bench.readings.map((reading) => reading.timeMs)).toEqual(
          clean.readings.map((reading) => reading.timeMs),
        );
      }),
      { numRuns: 100 },
    );
  });

  test('keeps any single flipped bit from changing a measurement', () => {
    const good = range(0, 30).map(checked);
    const expected = new Set(new Bench().lines(good).readings.map((reading) => JSON.stringify(reading.values)));
    const original = Buffer.from(checked(boardLine(25)), 'latin1');
    for (let bit = 0; bit < original.length * 8; bit++) {
      const damaged = original.map((byte, at) => (at === bit >> 3 ? byte ^ (1 << (bit & 7)) : byte));
      const bench = new Bench().lines(good.slice(0, 25)).bytes(damaged).text('\n').lines(good.slice(26));
      for (const reading of bench.readings) expect(expected).toContain(JSON.stringify(reading.values));
      expect(bench.readings.length).toBeGreaterThanOrEqual(29);
    }
  });
});
