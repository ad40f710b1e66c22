import { describe, expect, it } from 'vitest';
import { batchEstimate } from '../../../server/strand/statistics/batch-estimate.ts';
import { intervalOf, welch } from '../../../server/strand/statistics/differences.ts';
import { normal, seeded } from '../../chance.ts';
import { casesOf, IS_LONG_CHECK } from '../../long-check.ts';

const mean = (values: readonly number[]) => values.reduce((a, b) => a + b, 0) / values.length;

/** A first-order autoregressive series with mean 0 and standard deviation 1. */
function correlated(next: () => number, n: number, rho: number): number[] {
  const values: number[] = [];
  let last = next();
  for (let i = 0; i < n; i++) {
    values.push(last);
    last = rho * last + Math.sqrt(1 - rho * rho) * next();
  }
  return values;
}

interface Sums {
  readonly n: number;
  readonly sum: number;
  readonly squares: number;
}
function stretchesOf(values: readonly number[], count: number): Sums[] {
  const size = values.length / count;
  return Array.from({ length: count }, (_, i) => {
    const some = values.slice(i * size, (i + 1) * size);
    return { n: size, sum: mean(some) * size, squares: some.reduce((sum, x) => sum + x * x, 0) };
  });
}
const total = (some: readonly Sums[], of: keyof Sums) => some.reduce((sum, one) => sum + one[of], 0);
const meanOf = (some: readonly Sums[]) => total(some, 'sum') / total(some, 'n');
const logSd = (some: readonly Sums[]) => Math.log(total(some, 'squares') / total(some, 'n') - meanOf(some) ** 2) / 2;

describe('an estimate from batches', () => {
  it('has, for a mean, the standard error of the batch means', () => {
    const values = [3, 9, 1, 8, 2, 7, 1, 9, 3, 8, 2, 7];
    const found = batchEstimate(values, mean)!;
    expect(found.value).toBeCloseTo(mean(values), 12);
    // s/√n by hand: Σ(x − m)² = 416 − 60²/12, over 11, over 12. Negative correlation is not counted as a gain.
    expect(found.standardError).toBeCloseTo(Math.sqrt((416 - 60 ** 2 / 12) / 11 / 12), 12);
    expect(found.degreesOfFreedom).toBe(11);
  });

  it('needs ten batches', () => {
    expect(batchEstimate([1, 2, 3, 4, 5, 6, 7, 8, 9], mean)).toBeNull();
  });

  // 330 m in batches of 3.3 m, which is forty readings; the diameter is correlated over 0.8, 3, 10 or 30 m.
  const DECAYS = [10, 40, 120, 360];

  it.each(casesOf(DECAYS, 1))(
    'covers the true mean as often as stated, with a correlation over %i readings',
    (decay) => {
      const next = normal(seeded(decay));
      let covered = 0;
      let naive = 0;
      const times = 400;
      for (let time = 0; time < times; time++) {
        const values = correlated(next, 4000, Math.exp(-1 / decay));
        const { lower, upper } = intervalOf(batchEstimate(stretchesOf(values, 100), meanOf)!);
        if (lower <= 0 && upper >= 0) covered += 1;
        if (Math.abs(mean(values)) <= 1.96 / Math.sqrt(values.length)) naive += 1;
      }
      expect(covered / times).toBeGreaterThan(0.92);
      // An interval that takes all readings for independent covers it far too rarely.
      expect(naive / times).toBeLessThan(0.45);
    },
  );

  it.each(casesOf(DECAYS, 1))(
    'covers the true standard deviation as often as stated, with one over %i readings',
    (decay) => {
      const next = normal(seeded(decay));
      let covered = 0;
      const times = 400;
      for (let time = 0; time < times; time++) {
        const values = correlated(next, 4000, Math.exp(-1 / decay));
        const { lower, upper } = intervalOf(batchEstimate(stretchesOf(values, 100), logSd)!);
        if (lower <= 0 && upper >= 0) covered += 1;
      }
      expect(covered / times).toBeGreaterThan(0.9);
    },
  );

  it.skipIf(!IS_LONG_CHECK)(
    'finds a difference between like runs that wander over 60 m no more often than stated',
    () => {
      const next = normal(seeded(8));
      const run = (of: typeof meanOf) =>
        batchEstimate(stretchesOf(correlated(next, 4000, Math.exp(-1 / 720)), 100), of)!;
      const times = 400;
      for (const of of [meanOf, logSd]) {
        let found = 0;
        for (let time = 0; time < times; time++) if (welch(run(of), run(of))!.p < 0.05) found += 1;
        expect(found / times).toBeLessThan(0.07);
      }
    },
  );
});
