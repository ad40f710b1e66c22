import { describe, expect, test } from 'vitest';
import { numberFault } from '../../web/form/typed-number.ts';
import { metres, parseNumber } from '../../web/format/numbers.ts';

describe('a typed number', () => {
  test.each([
    ['1.75', 1.75],
    [' 1,75 ', 1.75],
    ['1,', 1],
    [',5', 0.5],
    ['+3', 3],
    ['-0,25', -0.25],
    ['\u22120.5', -0.5],
    ['1e-3', 0.001],
    ['12\u202f345.6', 12_345.6],
    ['12\u00a0345,6', 12_345.6],
  ])('“%s” is a number', (text, value) => {
    expect(parseNumber(text)).toBe(value);
  });

  test.each([
    '',
    ' ',
    '-',
    ',',
    '.',
    '1.7.5',
    '1,234.5',
    '1.234,5',
    'wide',
    '1.75 mm',
    '0x10',
    '1e',
    'Infinity',
    '1e999',
  ])('“%s” is not a number', (text) => {
    expect(parseNumber(text)).toBeNull();
  });

  test('is read back as the page shows it', () => {
    for (const m of [0, 1.75, -12.5, 98_765.432]) expect(parseNumber(metres(m * 1000, 3))).toBe(m);
  });
});

describe('the fault of a number', () => {
  test('states the range that the number is outside of', () => {
    const share = { exclusiveMinimum: 0, maximum: 1 };
    expect(numberFault(null, share)).toBe('Enter a number.');
    expect(numberFault(0, share)).toBe('Must be more than 0 and at most 1.');
    expect(numberFault(1.5, share)).toBe('Must be more than 0 and at most 1.');
    expect(numberFault(0.05, share)).toBeNull();
    expect(numberFault(-1, { minimum: 0 })).toBe('Must be at least 0.');
    expect(numberFault(0, { minimum: 0 })).toBeNull();
  });

  test('requires a whole number where the schema does', () => {
    const port = { type: 'integer', minimum: 1, maximum: 65_535 };
    expect(numberFault(587.5, port)).toBe('Enter a whole number.');
    expect(numberFault(70_000, port)).toBe('Must be between 1 and 65535.');
    expect(numberFault(587, port)).toBeNull();
  });

  test('is none without bounds', () => {
    expect(numberFault(-1e9)).toBeNull();
  });
});
