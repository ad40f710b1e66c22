import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { Bench, boardLines, checked, START_MS } from './take-in.ts';

const range = (from: number, to: number) => boardLines(to - from, from);

describe('the checksum', () => {
  test('may be there or not, until twenty good ones in a row were seen', () => {
    const bench = new Bench().lines([...range(0, 19).map(checked), ...range(19, 20)]);
    expect(bench.readings).toHaveLength(20);
    expect(bench.intake.checksum).toBe('optional');
  });

  test('is required once twenty good ones in a row were seen', () => {
    const bench = new Bench().lines([...range(0, 20).map(checked), ...range(20, 21)]);
    expect(bench.intake.checksum).toBe('required');
    expect(bench.readings).toHaveLength(20);
    expect(bench.causes()).toEqual(['noChecksum']);
  });

  test('a line without one begins the row anew', () => {
    const bench = new Bench().lines([...range(0, 19).map(checked), ...range(19, 20), ...range(20, 39).map(checked)]);
    expect(bench.intake.checksum).toBe('optional');
  });

  test('a bad one always drops the line', () => {
    const bad = `${range(2, 3)[0]}*00`;
    const bench = new Bench().lines([...range(0, 2).map(checked), bad, ...range(3, 5).map(checked)]);
    expect(bench.causes()).toEqual(['badChecksum']);
    expect(bench.readings).toHaveLength(4);
    expect(bench.intake.counters()).toMatchObject({ lost: 1, readings: 4 });
  });

  test('with "required" a line without one is dropped from the first', () => {
    const bench = new Bench({ checksum: 'required' }).lines([...range(0, 3), ...range(3, 6).map(checked)]);
    expect(bench.causes()).toEqual(['noChecksum', 'noChecksum', 'noChecksum']);
    expect(bench.readings).toHaveLength(3);
  });

  test('lower-case hex digits are as good', () => {
    const bench = new Bench().lines(
      range(0, 8).map((line) => checked(line).replace(/\*..$/, (sum) => sum.toLowerCase())),
    );
    expect(bench.readings).toHaveLength(8);
  });

  test('is "none" while no line had one', () => {
    expect(new Bench().lines(range(0, 30)).intake.checksum).toBe('none');
  });

  test('after a new connection, twenty lines in a row without one lift a requirement that was learnt', () => {
    const bench = new Bench().lines(range(0, 25).map(checked), START_MS);
    bench.intake.opened();
    // The first piece is thrown away, nineteen are dropped, and the twentieth is read again.
    bench.lines(range(25, 55), START_MS + 600);
    expect(bench.intake.counters().dropped.noChecksum).toBe(19);
    expect(bench.readings).toHaveLength(25 + 10);
  });

  test('but not in the same connection', () => {
    const bench = new Bench().lines([...range(0, 25).map(checked), ...range(25, 80)]);
    expect(bench.readings).toHaveLength(25);
  });

  test('garbage between lines never changes the values of the good ones', () => {
    const good = range(0, 40).map(checked);
    const clean = new Bench().lines(good);
    const garbage = fc.array(fc.uint8Array({ minLength: 0, maxLength: 700 }), { minLength: 1, maxLength: 12 });
    fc.assert(
      fc.property(garbage, fc.array(fc.nat(19), { minLength: 12, maxLength: 12 }), (pieces, places) => {
        // The checksum is required from the 21st line on: what is thrown in comes behind it.
        const bench = new Bench().lines(good.slice(0, 20));
        for (let i = 20; i < 40; i++) {
          pieces.forEach((piece, k) => {
            if (places[k] === i - 20) bench.bytes(piece).text('\n');
          });
          bench.lines([good[i]!]);
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

  test('one flipped bit anywhere in a line never makes another measurement of it', () => {
    const good = range(0, 30).map(checked);
    const expected = new Set(new Bench().lines(good).readings.map((reading) => JSON.stringify(reading.values)));
    const bits = good[25]!.length * 8;
    for (let bit = 0; bit < bits; bit++) {
      const spoilt = Buffer.from(good[25]!, 'latin1');
      spoilt[bit >> 3]! ^= 1 << (bit & 7);
      const bench = new Bench().lines(good.slice(0, 25)).bytes(spoilt).text('\n').lines(good.slice(26));
      for (const reading of bench.readings) expect(expected).toContain(JSON.stringify(reading.values));
      expect(bench.readings.length).toBeGreaterThanOrEqual(29);
    }
  });
});
