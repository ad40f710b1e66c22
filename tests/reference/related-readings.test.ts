import { expect, it } from 'vitest';
import { correlationAt, lagCorrelations, levelScores } from '../../server/strand/relation/lagged-correlation.ts';
import { effectivePairs } from '../../server/strand/relation/related-readings.ts';

// Values by SciPy 1.10.1 (rankdata) and statsmodels 0.13.5 (acf, ccf): data/related-readings.py.
const STEPS = 96;
const series = (lag: number, period: number) =>
  levelScores(
    Array.from(
      { length: STEPS },
      (_, i) => Math.round((Math.sin((i - lag) / 5) + 0.3 * Math.cos((i * i) / period)) * 1000) / 1000,
    ),
  )!;
const [a, b] = [series(0, 7), series(4, 11)];

it('correlates ranks at each lag as statsmodels does', () => {
  const cross = [0.33279978296256096, 0.41689161692892013, 0.4776044492674986, 0.3121710526315789, 0.34293271839392286];
  for (const [lag, expected] of cross.entries()) expect(correlationAt(a, b, lag)).toBeCloseTo(expected, 9);
  const own = [0.4117844546934345, 0.23255561584373302, 0.1534352957135105, 0.13564161692892024];
  for (const [i, expected] of own.entries()) expect(lagCorrelations(a)[i]).toBeCloseTo(expected, 9);
});

it('counts independent pairs as Bartlett does', () => {
  expect(effectivePairs(STEPS, lagCorrelations(a), lagCorrelations(b))).toBeCloseTo(30.922749221583167, 7);
});
