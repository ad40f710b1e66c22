import { describe, expect, it } from 'vitest';
import { MetreSpread } from '../../server/strand/trend/metre-spread.ts';
import { ar1 } from './analysis/noise.ts';

function spreadOf(means: ArrayLike<number>): MetreSpread {
  const spread = new MetreSpread();
  const all = Array.from(means);
  for (let i = 2; i < all.length; i++) spread.learn(all[i - 2]!, all[i - 1]!, all[i]!);
  return spread;
}
/** This pattern of means, repeated. */
const repeated = (count: number, ...pattern: number[]) =>
  Array.from({ length: count }, (_, i) => 1.75 + pattern[i % pattern.length]!);

describe('the spread of the means of metres', () => {
  // Of a first-order autoregression: σ √((1 + φ)/(1 − φ)) (Hamilton 1994, Time Series Analysis, 10.3; from memory).
  it.each([0, 0.3, 0.5])('is the long-run one, whatever the correlation of neighbours: %f', (phi) => {
    const expected = 0.01 * Math.sqrt((1 + phi) / (1 - phi));
    const all = Array.from({ length: 60 }, (_, seed) => spreadOf(ar1(400, phi, seed + 1).map((z) => 1.75 + 0.01 * z)));
    const median = all.map(({ likelyMm }) => likelyMm / expected).sort((a, b) => a - b)[30]!;
    expect(Math.abs(median - 1)).toBeLessThan(0.1);
    // By two standard errors of the correlation: the true one is seldom more.
    expect(all.filter(({ mostMm }) => mostMm < 0.95 * expected).length).toBeLessThanOrEqual(6);
  });

  it('follows from squares of differences over one metre and over two', () => {
    // D1 = 0.01²/2 in both; D2 = 0, and the same as D1.
    const alternating = spreadOf(repeated(19, 0, 0.01));
    expect(alternating.likelyMm).toBeCloseTo(Math.sqrt(0.01 ** 2 / 2), 12);
    const third = spreadOf(repeated(302, 0, 0, 0.01));
    expect(third.likelyMm).toBeCloseTo(Math.sqrt(0.01 ** 2 / 3), 4);
    // No correlation is seen in 17 differences, or 300; 200 count: 2/√17, 2/√200.
    const most = (phi: number) => Math.sqrt(1 + phi) / (1 - phi);
    expect(alternating.mostMm / alternating.likelyMm).toBeCloseTo(most(2 / Math.sqrt(17)), 9);
    expect(third.mostMm / third.likelyMm).toBeCloseTo(most(2 / Math.sqrt(200)), 1);
  });

  it('takes no correlation above 0.7 as likely, nor above 0.95 as possible', () => {
    // Each pair of neighbours differs as little as it can: D2 = 4 D1.
    const rising = spreadOf(Array.from({ length: 19 }, (_, i) => 0.01 * i));
    const d1 = 0.01 ** 2 / 2;
    expect(rising.likelyMm).toBeCloseTo(Math.sqrt(1.7 * d1) / 0.3, 12);
    expect(rising.mostMm).toBeCloseTo(Math.sqrt(1.95 * d1) / 0.05, 12);
  });

  it('is never less than what a gauge with micrometres shows', () => {
    expect(spreadOf(repeated(30, 0)).likelyMm).toBe(0.0005);
    expect(spreadOf(repeated(30, 0, 0.0001)).likelyMm).toBe(0.0005);
  });

  it('grows by a step no more than by twelve times what is usual, once that is known', () => {
    const d1After = (before: number, stepMm: number) => {
      const steady = repeated(before, 0, 0.01);
      const { likelyMm } = spreadOf([...steady, steady.at(-1)! + stepMm]);
      return likelyMm;
    };
    const usual = 0.01 ** 2 / 2;
    // The 20th difference: D1 rises by (12 − 1)/20 of itself; D2, which was 0, by 12/20 of the least of all.
    const d1 = usual * (1 + 11 / 20);
    expect(d1After(21, 1)).toBeCloseTo(Math.sqrt(d1), 6);
    expect(d1After(21, 2)).toBe(d1After(21, 1));
    // Before, all of it counts, and looks like a wander.
    expect(d1After(20, 1)).toBeGreaterThan(0.15);
    // The memory is 200 metres long.
    expect(d1After(1002, 1)).toBeCloseTo(Math.sqrt(usual * (1 + 11 / 200)), 6);
  });
});
