import { describe, expect, it } from 'vitest';
import { batchEstimate } from '../../server/strand/statistics/batch-estimate.ts';
import { type CapabilityInput, capability } from '../../server/strand/statistics/capability.ts';
import { effectiveSize } from '../../server/strand/statistics/effective-size.ts';
import { longRunSpread } from '../../server/strand/statistics/long-run-spread.ts';

const input = (partial: Partial<CapabilityInput>): CapabilityInput => ({
  lowerMm: 8,
  upperMm: 20,
  targetMm: 14,
  meanMm: 16,
  sdWithinMm: 2,
  sdOverallMm: 2,
  movingRanges: 99,
  effectiveForMean: 100,
  effectiveForSd: 100,
  ...partial,
});

describe('capability', () => {
  it('gives the indices of NIST/SEMATECH e-Handbook 6.1.6', () => {
    // https://www.itl.nist.gov/div898/handbook/pmc/section1/pmc16.htm: USL 20, LSL 8, mean 16, s 2.
    const indices = capability(input({}));
    expect(indices.cp.value).toBeCloseTo(1, 12);
    expect(indices.cpk.value).toBeCloseTo(0.6667, 4);
    // Cpm = 12 / (6·√(2² + 2²)), by hand.
    expect(indices.cpm.value).toBeCloseTo(Math.SQRT1_2, 12);
  });

  it('gives the chi-square interval of an index of spread', () => {
    // USL 62, LSL 38, n 20, s 1.75: 2.29, upper end 3.01 (wizedu.com/questions/1595352, whose lower end takes the wrong
    // tail); 1.57 to 3.01 in Montgomery, Introduction to Statistical Quality Control, from memory.
    const { pp } = capability(
      input({
        lowerMm: 38,
        upperMm: 62,
        targetMm: 50,
        meanMm: 50,
        sdOverallMm: 1.75,
        effectiveForSd: 20,
        movingRanges: 19,
        effectiveForMean: 20,
      }),
    );
    expect(pp.value).toBeCloseTo(2.29, 2);
    // The book continues with the rounded 2.29; the exact value is 1.565.
    expect(Math.abs(pp.lower - 1.57)).toBeLessThan(0.006);
    expect(pp.upper).toBeCloseTo(3.01, 2);
  });

  it("gives Bissell's interval of an index of position", () => {
    // "Cpk 1.15 from n = 45: between 0.89 and 1.41 with 95 % confidence", Quality Digest, May 2000,
    // https://www.qualitydigest.com/may00/html/lastword.html
    const sd = 1 / 3;
    const { ppk } = capability(
      input({
        lowerMm: -10,
        upperMm: 1.15,
        targetMm: 0,
        meanMm: 0,
        sdOverallMm: sd,
        effectiveForMean: 45,
        effectiveForSd: 45,
        movingRanges: 44,
      }),
    );
    expect(ppk.value).toBeCloseTo(1.15, 10);
    expect(ppk.lower).toBeCloseTo(0.89, 2);
    expect(ppk.upper).toBeCloseTo(1.41, 2);
  });

  it('has wider intervals from moving ranges than from a standard deviation of as many values', () => {
    const { cp, pp } = capability(input({ meanMm: 14 }));
    expect(cp.value).toBe(pp.value);
    expect(cp.upper - cp.lower).toBeGreaterThan(1.2 * (pp.upper - pp.lower));
  });

  // Quantiles by SciPy: data/capability-values.py. Good strand, strand beyond the tolerance, and a short correlated series.
  it.each([
    [
      [1.764, 0.01, 0.016, 400, 24, 60],
      {
        cp: [1.666666667, 1.518198388, 1.814962967],
        cpk: [1.2, 0.957344667, 1.44260081],
        pp: [1.041666667, 0.837082892, 1.204479858],
        ppk: [0.75, 0.549415007, 0.929662944],
        cpm: [0.783934057, 0.609647369, 0.957870943],
      },
    ],
    [
      [1.812, 0.01, 0.016, 400, 24, 60],
      {
        cpk: [-0.4, -0.620729098, -0.179264243],
        ppk: [-0.25, -0.391646831, -0.105266533],
        cpm: [0.260289603, 0.23492833, 0.285619107],
      },
    ],
    [
      [1.738, 0.012, 0.015, 50, 3, 20],
      {
        cp: [1.388888889, 1.040495125, 1.736610113],
        cpk: [1.055555556, 0.48667625, 1.62419714],
        pp: [1.111111111, 0.667210622, 1.281421722],
        ppk: [0.844444444, 0.319025842, 1.267532713],
        cpm: [0.86763201, 0.379478743, 1.362014229],
      },
    ],
  ] as const)('has the intervals that SciPy gives (case %#)', (values, expected) => {
    const [meanMm, sdWithinMm, sdOverallMm, movingRanges, effectiveForMean, effectiveForSd] = values;
    const band = { lowerMm: 1.7, upperMm: 1.8, targetMm: 1.75 };
    const sizes = { movingRanges, effectiveForMean, effectiveForSd };
    const found = capability({ ...band, meanMm, sdWithinMm, sdOverallMm, ...sizes });
    for (const [index, [value, lower, upper]] of Object.entries(expected)) {
      const estimate = found[index as keyof typeof found];
      expect(estimate.value).toBeCloseTo(value, 7);
      expect(estimate.lower).toBeCloseTo(lower, 7);
      expect(estimate.upper).toBeCloseTo(upper, 7);
    }
  });

  it('is infinite, with its whole interval, where nothing varies, and has one degree of freedom at least', () => {
    const even = capability(input({ sdWithinMm: 0, sdOverallMm: 0 }));
    for (const index of ['cp', 'cpk', 'pp', 'ppk'] as const)
      expect(Object.values(even[index])).toEqual(Array(3).fill(Number.POSITIVE_INFINITY));
    // The upper 2.5 % point of the root of chi-square with one degree of freedom is the normal one of 1.25 %.
    const none = capability(input({ movingRanges: 0, effectiveForMean: 0, effectiveForSd: 0 }));
    expect(none.cp.upper).toBeCloseTo(2.2414027, 6);
  });

  it('refuses limits in the wrong order', () => {
    expect(() => capability(input({ lowerMm: 20 }))).toThrow('the limits 20 and 20 mm are in the wrong order');
    expect(() => capability(input({ lowerMm: 21 }))).toThrow(/wrong order/);
  });
});

// By NumPy: data/capability-values.py.
const wave = Array.from({ length: 120 }, (_, i) => Math.sin(i / 3) + 0.5 * Math.sin(1.7 * i));

describe('the long-run spread', () => {
  const alternating = wave.map((_, i) => (-1) ** i + 0.001 * Math.sin(i / 9));
  it.each([
    [wave, [0, 0], [2.14180906, 1.627523429, 0.72878778]],
    [wave, [1, 0], [2.354571836, 1.790097434, 0.75625643]],
    [wave, [2, 1.5], [3.82379408, 2.883437012, 0.869979677]],
    // Too few for means of two; means of two, but not of four; means that cancel.
    [wave.slice(0, 40), [1, 0], [2.584384836, 2.036053625, 0.831256565]],
    [wave.slice(0, 40), [2, 1.5], [4.963280704, 3.945918324, 0.95]],
    [wave.slice(0, 101), [2, 1.5], [4.423222536, 3.304792091, 0.892362259]],
    [alternating, [1, 0], [1.004190162, 1.426089961, 0]],
    [alternating, [2, 1.5], [1.157424244, 1.465398872, 0.136930639]],
  ] as const)('is the largest of points and of longer means (case %#)', (values, [fitted, errors], expected) => {
    const { sigma, sigmaOfSquares, phi } = longRunSpread(Float64Array.from(values), fitted, errors);
    for (const [i, value] of [sigma, sigmaOfSquares, phi].entries()) expect(value).toBeCloseTo(expected[i]!, 7);
  });

  it('makes the effective size, of a series with gaps too', () => {
    const gaps = new Set([3, 4, 5, 6, 7, 11, 200]);
    const values = Array.from({ length: 460 }, (_, j) =>
      gaps.has(j) ? Number.NaN : 1.75 + 0.01 * Math.sin(j / 7) + 0.02 * Math.sin(2.3 * j),
    );
    const { count, forMean, forSd } = effectiveSize(values);
    expect(count).toBe(453);
    expect(forMean).toBeCloseTo(113.852783172, 6);
    expect(forSd).toBeCloseTo(227.705566344, 6);
    const steep = effectiveSize(Array.from({ length: 50 }, (_, j) => j));
    expect(steep.forMean).toBeCloseTo(0.61612426, 7);
    expect(steep.forSd).toBeCloseTo(1.232248521, 7);
    expect(effectiveSize([2, 2, 2])).toEqual({ count: 0, forMean: 0, forSd: 0, lag1: Number.NaN });
  });
});

describe('an estimate from stretches', () => {
  const mean = (some: readonly number[]) => some.reduce((sum, one) => sum + one, 0) / some.length;
  const logSd = (some: readonly number[]) => Math.log(mean(some.map((one) => (one - mean(some)) ** 2))) / 2;

  it('has the bias, error and degrees of freedom of a jackknife of correlated stretches', () => {
    for (const [figure, expected] of [
      [mean, [0.187570521, 0.462645023, 1.758481613]],
      [logSd, [-0.223417115, 0.152431566, 14.076450793]],
    ] as const) {
      const found = batchEstimate(wave.slice(0, 30), figure)!;
      expect(found.value).toBeCloseTo(expected[0], 7);
      expect(found.standardError).toBeCloseTo(expected[1], 7);
      expect(found.degreesOfFreedom).toBeCloseTo(expected[2], 6);
      expect(found.stretches).toBe(30);
    }
  });

  it('is exact where all are alike, and none where the figure is not finite without one of them', () => {
    const alike = { value: 2, standardError: 0, degreesOfFreedom: 9, stretches: 10 };
    expect(batchEstimate(Array(10).fill(2), mean)).toEqual(alike);
    const only = [1, 0, 0, 0, 0, 0, 0, 0, 0, 0];
    expect(batchEstimate(only, (some) => 1 / mean(some))).toBeNull();
    expect(batchEstimate(only, (some) => (some.length === 10 ? Number.NaN : 1))).toBeNull();
    // A wander over all of them leaves one degree of freedom.
    expect(batchEstimate([...wave.keys()], mean)!.degreesOfFreedom).toBe(1);
  });
});
