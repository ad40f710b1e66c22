import { describe, expect, it } from 'vitest';
import { clumpingOf, compareRates, garwoodInterval, rateInterval } from '../../server/strand/statistics/poisson.ts';

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
    const { rate, lower, upper } = rateInterval({ count: 137, exposure: 24.19893 });
    expect(rate).toBeCloseTo(5.661407, 5);
    expect(lower).toBeCloseTo(4.753125, 5);
    expect(upper).toBeCloseTo(6.692709, 5);
  });
});

describe('two Poisson rates', () => {
  it('compare as in the worked example of Fay', () => {
    // M. P. Fay, "Testing the Ratio of Two Poisson Rates", vignette of the R package rateratio.test, section 1,
    // https://rdrr.io/cran/rateratio.test/f/inst/doc/rateratio.test.pdf: 2 of 17877 against 9 of 16660.
    const found = compareRates({ count: 9, exposure: 16_660 }, { count: 2, exposure: 17_877 });
    expect(found.ratio).toBeCloseTo(0.2070941557, 9);
    expect(found.lower).toBeCloseTo(0.02177406, 7);
    expect(found.upper).toBeCloseTo(1.0005491, 6);
    expect(found.p).toBeCloseTo(0.05011, 5);
  });

  it('have the interval of R for lung cancer in Fredericia', () => {
    // R stats::poisson.test, data eba1977: 11 of 800 against 21 of 3011. The interval is R's; R defines the p-value
    // differently (less likely outcomes, not twice the smaller tail), so p = 0.112017 is from SciPy's binomial distribution.
    const found = compareRates({ count: 21, exposure: 3011 }, { count: 11, exposure: 800 });
    expect(found.ratio).toBeCloseTo(1.971488, 6);
    expect(found.lower).toBeCloseTo(0.858426, 6);
    expect(found.upper).toBeCloseTo(4.277266, 6);
    expect(found.p).toBeCloseTo(0.112017, 6);
  });

  it('have the conditional test of Krishnamoorthy & Thomson', () => {
    // J. Stat. Plan. Inference 119 (2004), example 1, from memory: 0 of 100 against 3 of 100, conditional p = 0.25.
    const found = compareRates({ count: 0, exposure: 100 }, { count: 3, exposure: 100 });
    expect(found.p).toBeCloseTo(0.25, 10);
    expect(found.upper).toBe(Number.POSITIVE_INFINITY);
  });

  it('do not differ where nothing was counted', () => {
    expect(compareRates({ count: 0, exposure: 5 }, { count: 0, exposure: 7 })).toEqual({
      ratio: Number.NaN,
      lower: 0,
      upper: Number.POSITIVE_INFINITY,
      p: 1,
    });
  });

  it('have the same p in either order, and a ratio of nothing from 0 on', () => {
    const found = compareRates({ count: 3, exposure: 100 }, { count: 0, exposure: 100 });
    expect(found).toMatchObject({ ratio: 0, lower: 0, p: expect.closeTo(0.25, 10) });
    // Of three, none in the second: p/(1 − p) with (1 − p)³ = 0.025.
    expect(found.upper).toBeCloseTo(0.025 ** (-1 / 3) - 1, 9);
  });

  it('are refused without length, whole counts, or a share of confidence', () => {
    for (const exposure of [0, -1, Number.NaN]) {
      expect(() => rateInterval({ count: 1, exposure })).toThrow(`must be above zero, not ${exposure}`);
      const some = { count: 1, exposure: 1 };
      for (const [a, b] of [
        [some, { count: 1, exposure }],
        [{ count: 1, exposure }, some],
      ] as const)
        expect(() => compareRates(a, b)).toThrow('needs an exposure above zero');
    }
    for (const count of [-1, 0.5, Number.NaN]) expect(() => garwoodInterval(count)).toThrow('a whole number from 0');
    for (const confidence of [0, 1, Number.NaN])
      expect(() => garwoodInterval(1, confidence)).toThrow('not between 0 and 1');
  });

  it('have wider intervals where events come in clumps', () => {
    const [first, second] = [
      { count: 40, exposure: 100 },
      { count: 16, exposure: 100 },
    ];
    // Four at a time: the same as 10 against 4, whose exact p is 2·P(X ≤ 4) of 14 halves = 2·1471/16384.
    expect(compareRates(first, second, 4).p).toBeCloseTo(2942 / 16_384, 10);
    expect(compareRates(first, second).p).toBeLessThan(0.01);
    const { rate, lower, upper } = rateInterval(first, 4);
    const ten = garwoodInterval(10);
    expect([rate, lower * 25, upper * 25]).toEqual([0.4, expect.closeTo(ten.lower, 9), expect.closeTo(ten.upper, 9)]);
  });
});

describe('clumps', () => {
  it('are found in the mites of Bliss and Fisher', () => {
    // Bliss & Fisher 1953, Biometrics 9: red mites on 150 apple leaves, mean 1.1467, variance 2.2736 (data from memory; their
    // sum 172 and both moments agree). χ² = 149 · 2.2736/1.1467.
    const leaves = [70, 38, 17, 10, 9, 3, 2, 1].flatMap((times, mites) => new Array<number>(times).fill(mites));
    const found = clumpingOf(leaves)!;
    expect(found.index).toBeCloseTo(2.2736 / 1.1467, 3);
    expect(found.p).toBeLessThan(1e-10);
  });

  it('have the p-value of the chi-square distribution', () => {
    // Σ(x − 1)² = 28 over 20 places of mean 1: χ² = 28 with 19 degrees of freedom, 0.083429 by SciPy.
    const counts = [4, 4, 2, 2, 1, 1, 1, 1, 1, 1, 1, 1, 0, 0, 0, 0, 0, 0, 0, 0];
    const found = clumpingOf(counts)!;
    expect(found.index * 19).toBeCloseTo(28, 10);
    expect(found.p).toBeCloseTo(0.083429, 6);
    expect(clumpingOf([1, 0, 0, 0])).toBeNull();
    expect([clumpingOf([]), clumpingOf([5])]).toEqual([null, null]);
    // Σ(x − 2)²/2 = 1 with one degree of freedom: twice the tail of a normal value beyond 1.
    expect(clumpingOf([1, 3])).toEqual({ index: 1, p: expect.closeTo(0.317310508, 9) });
  });
});
