import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { DecimalReader } from '../../server/reading/decimal.ts';
import { Bench, boardLines, checked } from './intake-bench.ts';

const decimal = new DecimalReader();

function read(text: string, comma = false): number | 'none' {
  const bytes = Buffer.from(text, 'latin1');
  return decimal.read(bytes, 0, bytes.length, comma) === bytes.length ? decimal.value : 'none';
}

describe('numbers', () => {
  test('a decimal has exactly the value that Number() returns', () => {
    const digits = fc.stringMatching(/^[+-]?(\d{1,20}(\.\d{0,20})?|\.\d{1,20})([eE][+-]?\d{1,2})?$/);
    fc.assert(
      fc.property(digits, (text) => {
        expect(read(text)).toBe(Number(text));
      }),
      { numRuns: 2000 },
    );
  });

  test('a printed double is read as the same double', () => {
    fc.assert(
      fc.property(
        fc.double({ noNaN: true, noDefaultInfinity: true }),
        fc.integer({ min: 0, max: 15 }),
        (value, places) => {
          expect(read(String(value))).toBe(Number(String(value)));
          if (Math.abs(value) < 1e21) expect(read(value.toFixed(places))).toBe(Number(value.toFixed(places)));
        },
      ),
      { numRuns: 1000 },
    );
  });

  test('−0 stays −0, and many digits are rounded correctly', () => {
    expect(read('-0')).toBe(-0);
    expect(read('0.1234567890123456789')).toBe(0.12345678901234568);
    expect(read('9007199254740993')).toBe(9007199254740992);
  });

  test.each(['nan', 'NaN', 'NAN', 'inf', '-inf', 'Infinity', '-', 'null'])('"%s" is no value this time', (text) => {
    expect(read(text)).toBeNaN();
  });

  test.each(['', '.', '+', '1.2.3', '1e', '--1', '0x10', '1_000', '12abc', 'ovf', 'e5', '1e999', '1,5'])(
    '"%s" is not a number',
    (text) => {
      expect(read(text)).toBe('none');
    },
  );

  test('a decimal comma is read if allowed', () => {
    expect(read('1,752', true)).toBe(1.752);
    expect(read('-1,5e2', true)).toBe(-150);
    expect(read('1,2,3', true)).toBe('none');
  });

  test('no value this time is a gap, not a zero', () => {
    const gaps = ['d=nan', 'd=inf', 'd=-', 'd=null', 'd='];
    const bench = new Bench().lines(
      boardLines(8).map((line, i) => checked(line.replace(/d=\S+/, gaps[i] ?? 'd=1.750'))),
    );
    expect(bench.signal('d')).toEqual([Number.NaN, Number.NaN, Number.NaN, Number.NaN, Number.NaN, 1.75, 1.75, 1.75]);
    expect(bench.signal('t1').every(Number.isFinite)).toBe(true);
  });
});
