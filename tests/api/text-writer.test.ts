import fc from 'fast-check';
import { expect, it } from 'vitest';
import { csvText } from '../../server/api/export/text-encoders.ts';
import { TextWriter } from '../../server/api/export/text-writer.ts';

const writer = new TextWriter();
const textOf = (write: (to: TextWriter) => void): string => {
  write(writer);
  return new TextDecoder().decode(writer.take());
};

// The language’s own writing of a number and a time is the reference.
const number = (value: number) => {
  expect(textOf((to) => to.number(value))).toBe(String(value));
};
const time = (micros: number) => {
  const iso = new Date(Math.floor(micros / 1000)).toISOString().slice(0, -1);
  const rest = String(((micros % 1000) + 1000) % 1000).padStart(3, '0');
  expect(textOf((to) => to.time(micros / 1000))).toBe(`${iso}${rest}Z`);
};

it('writes any number as the language does', () => {
  for (const value of [0, -0, 0.1 + 0.2, 1e21, 1e-7, 5e-324, 0.00005, 999_999_999_999_999, 1e15, -12.5, 100])
    number(value);
  fc.assert(fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), number), { numRuns: 300 });
});

it('writes any decimal number of a reading as the language does', () => {
  const decimal = fc
    .tuple(fc.integer({ min: -1e9, max: 1e9 }), fc.integer({ min: 0, max: 6 }))
    .map(([digits, decimals]) => digits / 10 ** decimals);
  fc.assert(fc.property(decimal, number), { numRuns: 300 });
});

it('writes times with microseconds, before 1970 too', () => {
  for (const micros of [0, -1, 59_999_999, 60_000_000, -62_135_596_800_000_000, 1_795_957_413_901_123]) time(micros);
  fc.assert(fc.property(fc.integer({ min: -60_000_000_000_000, max: 4_000_000_000_000_000 }), time), { numRuns: 300 });
});

it('grows beyond its first buffer', () => {
  const text = textOf((to) => {
    for (let i = 0; i < 30_000; i++) to.number(i);
  });
  expect(text).toBe(Array.from({ length: 30_000 }, (_, i) => i).join(''));
});

// As in OWASP’s page on CSV injection. Spreadsheets set to Chinese, Japanese or Korean also take the wide signs.
it.each([
  ['=1+1', "'=1+1"],
  ['＝1+1', "'＝1+1"],
  ['＋1', "'＋1"],
  ['－1', "'－1"],
  ['＠SUM(A1)', "'＠SUM(A1)"],
  ['a;＝1', "a;'＝1"],
  ['a\r\n=1', '"a\r\n\'=1"'],
  ['1＝1', '1＝1'],
])('a cell with %j cannot be taken for a formula', (text, cell) => expect(csvText(text)).toBe(cell));
