import { expect, it } from 'vitest';
import { roundTicks, tickDigits } from '../../web/chart/ticks.ts';
import { edgeDigits } from '../../web/judgement/histogram.tsx';

it('labels bin edges with the digits that distinguish them', () => {
  expect(edgeDigits([1.745, 1.75, 1.755])).toBe(3);
  expect(edgeDigits([1.7445, 1.7495, 1.7545])).toBe(4);
  expect(edgeDigits([1.74879, 1.75133])).toBe(5);
});

it.each([
  [1.5995, 1.9045, '1.60 1.65 1.70 1.75 1.80 1.85 1.90'],
  [1.5955, 1.9055, '1.60 1.65 1.70 1.75 1.80 1.85 1.90'],
  [1.59766, 1.90246, '1.60 1.65 1.70 1.75 1.80 1.85 1.90'],
])('has round ticks between the odd edges %s and %s', (from, to, text) => {
  const xs = roundTicks(from, to, 7);
  expect(xs.map((x) => x.toFixed(tickDigits(xs))).join(' ')).toBe(text);
});
