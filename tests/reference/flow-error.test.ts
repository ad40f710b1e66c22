import { describe, expect, it } from 'vitest';
import { flowError } from '../../server/strand/verdict/flow-error.ts';
import { garwoodInterval, jamChance } from '../../server/strand/verdict/jam-chance.ts';

describe('flow error', () => {
  it('is the error of the cross-section, by hand', () => {
    // (d/d0)² − 1: 1.70 of 1.75 → −5.633 %, 1.73 → −2.273 %, 1.77 → +2.299 %, 1.80 → +5.796 %, 2.80 of 2.85 → −3.478 %,
    // 2.90 → +3.540 %.
    const table: [number, number, number][] = [
      [1.7, 1.75, -5.633],
      [1.73, 1.75, -2.273],
      [1.77, 1.75, 2.299],
      [1.8, 1.75, 5.796],
      [2.8, 2.85, -3.478],
      [2.9, 2.85, 3.54],
    ];
    for (const [d, nominal, percent] of table) {
      const flow = flowError({ from: 0, step: 10, values: new Float64Array(200).fill(d) }, nominal)!;
      expect(flow.mean * 100).toBeCloseTo(percent, 3);
      expect(flow.flowMultiplier * (d / nominal) ** 2).toBeCloseTo(1, 12);
      expect(flow.worstAfterSetting[0]!.most!.error).toBeCloseTo(0, 12);
    }
  });
});

describe('Poisson counts', () => {
  it("have Garwood's interval", () => {
    // GraphPad FAQ citing Garwood 1936 (count 25), https://graphpad.com/support/faq/how-quickcalcs-computes-the-confidence-interval-of-a-count
    const cases: [number, number, number, number][] = [
      [25, 0.9, 17.38, 34.92],
      [25, 0.95, 16.18, 36.9],
      [25, 0.99, 14.0, 41.0],
      // calculatorhub.com; documentation of epitools pois.exact.
      [0, 0.95, 0, 3.689],
      [10, 0.95, 4.8, 18.39],
    ];
    for (const [count, confidence, lower, upper] of cases) {
      const interval = garwoodInterval(count, confidence);
      expect(Math.abs(interval.lower - lower)).toBeLessThanOrEqual(0.00501);
      expect(Math.abs(interval.upper - upper)).toBeLessThanOrEqual(0.00501);
    }
  });

  it('have the interval of R for 137 events', () => {
    // R stats::poisson.test, https://stat.ethz.ch/R-manual/R-devel/library/stats/html/poisson.test.html: 137 of 24.19893
    // expected, ratio 4.753125 to 6.692709.
    const { lower, upper } = garwoodInterval(137);
    expect(lower / 24.19893).toBeCloseTo(4.753125, 5);
    expect(upper / 24.19893).toBeCloseTo(6.692709, 5);
  });

  it('promise at most 1 − exp(−3.689 · share) where none was found', () => {
    const chance = jamChance(0, 300_000, 30_000)!;
    expect(chance.chance).toBe(0);
    expect(chance.upper).toBeCloseTo(1 - Math.exp(-0.3689), 4);
    expect(chance.sentence).toContain('at most');
  });
});
