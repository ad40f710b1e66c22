import { expect, it } from 'vitest';
import { PointedNumbers } from '../../server/reading/pointed-numbers.ts';
import { pointableNumbers } from '../../web/set-up/pointable-numbers.ts';

const LINES = [
  '[xa9] fine dia: 1.753 mm, zone temp=198.8C adc 787',
  '[xb1] well dia: 1.751 mm, zone temp=198.6C adc 785 adc 4',
  '[xc7] warm dia: 1.750 mm, zone temp=198.4C',
];

it('a user may point at numbers whose word comes once in several lines', () => {
  expect(pointableNumbers(LINES)).toEqual([
    { word: 'dia', number: '1.753' },
    { word: 'temp', number: '198.8' },
  ]);
  expect(pointableNumbers(LINES.slice(0, 1))).toEqual([]);
});

it('the service finds the same numbers by those words', () => {
  for (const { word, number } of pointableNumbers(LINES)) {
    const pointed = new PointedNumbers([word]);
    const bytes = Buffer.from(LINES[0]!);
    pointed.pick(bytes, 0, bytes.length);
    expect(Buffer.from(pointed.bytes.subarray(pointed.start, pointed.end)).toString()).toBe(`${word} ${number}`);
  }
});
