import { expect, it } from 'vitest';
import { LastMinute } from '../../../server/strand/statistics/last-minute.ts';

it('covers the last sixty seconds and nothing before', () => {
  const minute = new LastMinute();
  for (let s = 0; s < 200; s += 1) minute.add(s, s * 1000 + 500);
  expect(minute.moments(199_900)).toMatchObject({ count: 60, min: 140, max: 199, mean: 169.5 });
  expect(minute.moments(240_000).count).toBe(19);
  expect(minute.moments(260_000).mean).toBeNaN();
});

it('has the mean and standard deviation of all values, and ignores what is not finite', () => {
  // NIST/SEMATECH e-Handbook, 1.3.5.6 (from memory): s² = Σ(x − m)² / (n − 1).
  const minute = new LastMinute();
  for (const [i, value] of [2, 4, Number.NaN, 4, 4, 5, 5, 7, 9].entries()) minute.add(value, i * 700);
  expect(minute.moments(7000)).toMatchObject({ count: 8, mean: 5 });
  expect(minute.moments(7000).sd).toBeCloseTo(Math.sqrt(32 / 7), 12);
});
