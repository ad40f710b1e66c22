import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { autocorrelation } from '../../../server/strand/statistics/autocorrelation.ts';
import { tallyDiameters } from '../../../server/strand/statistics/diameter-tally.ts';
import { effectiveSize } from '../../../server/strand/statistics/effective-size.ts';
import { gaugeSteps } from '../../../server/strand/statistics/gauge-steps.ts';
import { binsFor, histogram, toleranceShares } from '../../../server/strand/statistics/histogram.ts';
import { lengthWeights } from '../../../server/strand/statistics/length-weights.ts';
import { ovality } from '../../../server/strand/statistics/ovality.ts';
import { quantiles } from '../../../server/strand/statistics/quantiles.ts';
import { resampleEvenly } from '../../../server/strand/statistics/resample.ts';
import { individuals, statisticsAgainst, strandBasis } from '../../../server/strand/statistics/strand-statistics.ts';
import { momentsOf, WeightedMoments } from '../../../server/strand/statistics/weighted-moments.ts';
import { IS_LONG_CHECK } from '../../long-check.ts';
import { ar1, normals } from './noise.ts';

const limits = { nominalMm: 1.75, toleranceMm: 0.05 };
const statistics = (...strand: Parameters<typeof strandBasis>) => statisticsAgainst(strandBasis(...strand), limits);
const sample = fc.array(fc.double({ min: 1.4, max: 2.2, noNaN: true }), { minLength: 2, maxLength: 60 });

describe('moments along the length', () => {
  it('are the same for the whole and for merged parts', () => {
    fc.assert(
      fc.property(sample, fc.nat(60), (values, cut) => {
        const parts = momentsOf(values.slice(0, cut));
        parts.merge(momentsOf(values.slice(cut)));
        const whole = momentsOf(values);
        expect(parts.mean).toBeCloseTo(whole.mean, 12);
        expect(parts.sd).toBeCloseTo(whole.sd, 12);
        expect([parts.min, parts.max, parts.count]).toEqual([whole.min, whole.max, whole.count]);
      }),
    );
  });

  it('weight a sample of two millimetres as two of one', () => {
    const one = new WeightedMoments();
    const two = new WeightedMoments();
    for (const [value, weight] of [
      [1.7, 2],
      [1.8, 1],
      [1.75, 3],
    ] as const) {
      one.add(value, weight);
      for (let i = 0; i < weight; i++) two.add(value);
    }
    expect(one.mean).toBeCloseTo(two.mean, 12);
  });

  it('count a slow stretch by its length, not by its readings', () => {
    // 100 mm of 1.70 read every millimetre, then 100 mm of 1.80 read every 10 mm.
    const at = [...Array.from({ length: 101 }, (_, i) => i), ...Array.from({ length: 10 }, (_, i) => 110 + 10 * i)];
    const d = at.map((x) => (x <= 100 ? 1.7 : 1.8));
    expect(momentsOf(d).mean).toBeLessThan(1.72);
    expect(momentsOf(d, lengthWeights(at)).mean).toBeCloseTo(1.75, 2);
  });

  it('give each sample half of the way to its neighbours, and no weight to a gap', () => {
    expect([...lengthWeights([0, 1, 6, 6, 500, 501], 5)]).toEqual([0.5, 3, 2.5, 0, 0.5, 0.5]);
    expect([...lengthWeights([0, 5.1], 5)]).toEqual([0, 0]);
    expect(() => lengthWeights([0, 2, 0.5])).toThrow('sample 2 is 1.5 mm before the previous sample');
  });

  it('count neither gaps nor samples without weight, and are not known of too few', () => {
    const numbers = ({ count, weight, mean, sd, min, max }: WeightedMoments) => [count, weight, mean, sd, min, max];
    const unknown = Number.NaN;
    expect(numbers(momentsOf([]))).toEqual([0, 0, unknown, unknown, unknown, unknown]);
    expect(numbers(momentsOf([1.7, unknown, 1.9], [2, 1, 0]))).toEqual([1, 2, 1.7, unknown, 1.7, 1.7]);
    const two = momentsOf([1, 3]);
    expect(numbers(two)).toEqual([2, 2, 2, Math.SQRT2, 1, 3]);
    two.merge(momentsOf([]));
    expect(numbers(two)).toEqual([2, 2, 2, Math.SQRT2, 1, 3]);
    const none = momentsOf([]);
    none.merge(momentsOf([]));
    expect(none.mean).toBeNaN();
    none.merge(two);
    expect(numbers(none)).toEqual(numbers(two));
    expect(() => momentsOf([1], [-1])).toThrow('a weight of -1');
  });
});

describe('quantiles', () => {
  // By numpy.quantile(values, shares, method='averaged_inverted_cdf') of NumPy 2.4.6, each value repeated by its length.
  const values = [1.83, 1.71, 1.75, 1.92, 1.74, 1.79, 1.74, 1.85, 1.76, 1.8];
  const lengths = [1, 3, 0, 2, 1, 4, 2, 1, 3, 3];
  const shares = [0.05, 0.2, 0.3, 0.5, 0.9, 0.95];
  const byNumPy = [1.71, 1.74, 1.75, 1.79, 1.885, 1.92];

  it('are those of NumPy by the same method, each value weighed by its length', () => {
    expect(quantiles(values, [0, 0.05, 0.1, 0.25, 0.5, 0.75, 0.81, 0.9, 1])).toEqual([
      1.71, 1.71, 1.725, 1.74, 1.775, 1.83, 1.85, 1.885, 1.92,
    ]);
    expect(quantiles(values, shares, lengths)).toEqual(byNumPy);
    // Sums of these lengths have rounding errors.
    const tenths = lengths.map((mm) => mm / 10);
    expect(quantiles(values, shares, tenths)).toEqual(byNumPy);
  });

  it('leave out what was not measured, and what has no length', () => {
    const [nan, far] = [Number.NaN, Number.POSITIVE_INFINITY];
    expect(quantiles([...values, nan, -far, far, 1.6, 2, 2], shares, [...lengths, 9, 9, 9, 0, nan, -9])).toEqual(
      byNumPy,
    );
  });

  it('are those of equal values, and of none', () => {
    expect(quantiles(new Float64Array(30).fill(1.75), [0, 0.5, 1])).toEqual([1.75, 1.75, 1.75]);
    expect(quantiles([Number.NaN], [0.5])).toEqual([Number.NaN]);
    expect(quantiles([1.75], [0.5], [0])).toEqual([Number.NaN]);
  });

  it.each([-0.01, 1.01, Number.NaN])('refuse a share of %f', (share) => {
    expect(() => quantiles([1], [share])).toThrow('a share must be between 0 and 1');
  });
});

describe('histogram and tolerance', () => {
  it('count the length on either side of the limits, each of which is within', () => {
    const values = [1.69, 1.7, 1.75, Number.NaN, 1.8, 1.81, 1.82, Number.POSITIVE_INFINITY];
    expect(toleranceShares(values, [1, 2, 4, 100, 8, 16, 32, 100], 1.7, 1.8)).toEqual({
      within: 14 / 63,
      below: 1 / 63,
      above: 48 / 63,
      measuredMm: 63,
    });
    expect(toleranceShares([Number.NaN], [1], 1.7, 1.8)).toEqual({
      within: Number.NaN,
      below: Number.NaN,
      above: Number.NaN,
      measuredMm: 0,
    });
  });

  it('account for every millimetre', () => {
    fc.assert(
      fc.property(sample, (values) => {
        const weights = values.map((_, i) => 1 + (i % 3));
        const total = weights.reduce((a, b) => a + b, 0);
        const tally = tallyDiameters(values, weights);
        const h = histogram(tally, binsFor([gaugeSteps(tally)], { nominalMm: 1.75, toleranceMm: 0.05 }));
        expect(h.lengthsMm.reduce((a, b) => a + b, 0) + h.belowMm + h.aboveMm).toBeCloseTo(total, 9);
        const t = toleranceShares(values, weights, 1.7, 1.8);
        expect(t.within + t.below + t.above).toBeCloseTo(1, 12);
      }),
    );
  });

  it('take a reading on an edge of the band for within', () => {
    // 2.85 − 0.05 is 2.8000000000000003.
    const { tolerance } = statisticsAgainst(strandBasis([0, 1, 2, 3, 4], [2.85, 2.8, 2.8, 2.9, 2.9]), {
      nominalMm: 2.85,
      toleranceMm: 0.05,
    });
    expect(tolerance).toMatchObject({ within: 1, below: 0, above: 0 });
  });

  it('refuse limits in the wrong order', () => {
    for (const lowerMm of [1.8, 1.7]) expect(() => toleranceShares([1], [1], lowerMm, 1.7)).toThrow(/wrong order/);
  });
});

describe('an even grid', () => {
  it('keeps the mean of the strand, wherever the samples are', () => {
    fc.assert(
      fc.property(
        fc.array(
          fc.tuple(fc.double({ min: 0.1, max: 30, noNaN: true }), fc.double({ min: 1.5, max: 2, noNaN: true })),
          {
            minLength: 4,
            maxLength: 60,
          },
        ),
        (steps) => {
          let at = 0;
          const x = steps.map(([step]) => {
            at += step;
            return at;
          });
          const y = steps.map(([, value]) => value);
          const cell = (x.at(-1)! - x[0]!) / 7;
          const grid = resampleEvenly(x, y, cell);
          let area = 0;
          for (let i = 1; i < x.length; i++) area += ((x[i]! - x[i - 1]!) * (y[i]! + y[i - 1]!)) / 2;
          expect(grid.values.length).toBe(7);
          expect(grid.values.reduce((a, b) => a + b, 0) * cell).toBeCloseTo(area, 6);
        },
      ),
    );
  });

  it('keeps a gap', () => {
    const grid = resampleEvenly([0, 1, 2, 3, 50, 51, 52], [1, 1, 1, 1, 2, 2, 2], 1, 5);
    expect(grid.values[1]).toBe(1);
    expect(grid.values[20]).toBeNaN();
    expect(grid.values[51]).toBe(2);
    expect(resampleEvenly([0, 1, 2, 3], [1, Number.NaN, 1, 1], 1).values[0]).toBeNaN();
  });

  it('follows straight lines between the samples, in cells of which at least half was measured', () => {
    const grid = (positions: number[], values: number[], step: number, longestGap?: number) => {
      const { from, values: cells } = resampleEvenly(positions, values, step, longestGap);
      return [from, ...cells];
    };
    expect(grid([10, 14, 20], [1, 5, 11], 2)).toEqual([10, 2, 4, 6, 8, 10]);
    expect(grid([0, 1, 1, 2.9], [1, 1, 3, 3], 1)).toEqual([0, 1, 3]);
    expect(grid([0, 1, 5], [7, 7, 7], 2, 1)).toEqual([0, 7, Number.NaN]);
    expect(grid([0, 0.9, 5], [7, 7, 7], 2, 1)).toEqual([0, Number.NaN, Number.NaN]);
    expect([grid([], [], 1), grid([4], [7], 1), grid([4, 5], [7, 8], 1)]).toEqual([[0], [4], [4, 7.5]]);
  });

  it('needs a step, a value for each place, and places that do not fall', () => {
    for (const step of [0, -1, Number.NaN, Number.POSITIVE_INFINITY])
      expect(() => resampleEvenly([0, 1], [1, 1], step)).toThrow(`above zero, not ${step}`);
    expect(() => resampleEvenly([0, 1], [1], 1)).toThrow('2 positions do not fit 1 values');
    expect(() => resampleEvenly([0, 3, 1], [1, 1, 1], 1)).toThrow('sample 2 is 2 before the previous sample');
  });
});

describe('effective sample size', () => {
  it('is about n for independent values', () => {
    const size = effectiveSize(normals(20_000, 11));
    // The largest spread at any scale of a hundred means counts, so it is rather too small.
    expect(size.forMean).toBeGreaterThan(12_000);
    expect(size.forSd).toBe(20_000);
  });

  it('is n(1 − ρ)/(1 + ρ) for a first-order series', () => {
    for (const rho of [0.5, 0.9, 0.98]) {
      const n = 200_000;
      const expected = (n * (1 - rho)) / (1 + rho);
      const size = effectiveSize(ar1(n, rho, 5));
      expect(size.lag1).toBeCloseTo(rho, 1);
      // The largest spread at any scale counts, so it is rather too small.
      expect(size.forMean / expected).toBeGreaterThan(0.6);
      expect(size.forMean / expected).toBeLessThan(1.25);
      expect(size.forSd).toBeCloseTo(2 * size.forMean, 6);
    }
  });
});

describe('intervals of capability', () => {
  it.skipIf(!IS_LONG_CHECK)('hold the true index in 95 of 100 cases, however long the diameter is correlated', () => {
    const pitchMm = 50;
    const sd = 0.015;
    for (const correlationMm of IS_LONG_CHECK ? [50, 1000, 10_000, 30_000] : [1000]) {
      const rho = Math.exp(-pitchMm / correlationMm);
      const index = { pp: 0.05 / 3 / sd, cp: 0, ppk: 0.04 / 3 / sd, cpk: 0, cpm: 0.05 / 3 / Math.hypot(sd, 0.01) };
      const sdWithin = sd * Math.sqrt(1 - Math.exp(-250 / correlationMm));
      index.cp = 0.05 / 3 / sdWithin;
      index.cpk = 0.04 / 3 / sdWithin;
      const covered = { pp: 0, cp: 0, ppk: 0, cpk: 0, cpm: 0 };
      const times = 200;
      for (let seed = 1; seed <= times; seed++) {
        const d = ar1(330_000 / pitchMm, rho, seed).map((z) => 1.76 + sd * z);
        const { capability } = statistics(
          d.map((_, i) => i * pitchMm),
          d,
        );
        for (const key of ['pp', 'cp', 'ppk', 'cpk', 'cpm'] as const)
          if (capability![key].lower <= index[key] && index[key] <= capability![key].upper) covered[key] += 1;
      }
      // Fewer than 92 % come by chance in one case of thirty.
      for (const [key, count] of Object.entries(covered))
        expect(count / times, `${key}, ${correlationMm} mm`).toBeGreaterThanOrEqual(0.915);
    }
  });
});

describe('ovality', () => {
  it('is the difference of the axes, and nothing where one of them is missing', () => {
    const o = ovality([1.76, 1.8, Number.NaN], [1.74, 1.7, 1.75], [1, 1, 1])!;
    expect(o.meanMm).toBeCloseTo(0.06, 12);
    expect(o.largestMm).toBeCloseTo(0.1, 12);
    expect(o.largestAtSample).toBe(1);
    expect(ovality([Number.NaN], [1.75], [1])).toBeNull();
    // By length: 0.02, three times 0.1, then one that was not measured and two that stand for no strand.
    expect(ovality([1.76, 1.8, Number.NaN, 1.9, 1.9], [1.74, 1.7, 1.75, 1.6, 1.6], [1, 3, 1, 0, Number.NaN])).toEqual({
      meanMm: expect.closeTo(0.08, 12),
      p95Mm: expect.closeTo(0.1, 12),
      largestMm: expect.closeTo(0.1, 12),
      largestAtSample: 1,
      share: expect.closeTo(0.08 / 1.75, 12),
    });
    expect(ovality([2, 1], [1, 2], [1, 1])?.largestAtSample).toBe(0);
    expect(ovality([1.8], [1.7], [0])).toBeNull();
  });
});

describe('statistics of a strand', () => {
  it('warn that short-term capability is too good where diameters are correlated', () => {
    const noise = ar1(40_000, 0.999, 9);
    const d = noise.map((z) => 1.75 + 0.015 * z);
    const at = d.map((_, i) => i * 2);
    const s = statistics(at, d);
    expect(s.capability!.cp.value).toBeGreaterThan(1.3 * s.capability!.pp.value);
    expect(s.warnings.join(' ')).toContain('judge by Pp and Ppk');
    expect(s.individuals.forMean).toBeLessThan(s.individuals.count / 2);
  });

  it('have no warnings for even, independent strand, and cover its true index', () => {
    let covered = 0;
    for (let seed = 1; seed <= 40; seed++) {
      const d = normals(4000, seed).map((z) => 1.75 + 0.015 * z);
      const s = statistics(
        d.map((_, i) => i * 50),
        d,
        { individualsEveryMm: 200 },
      );
      expect(s.warnings).toEqual([]);
      const trueCp = 0.1 / (6 * 0.015);
      if (s.capability!.cp.lower <= trueCp && trueCp <= s.capability!.cp.upper) covered += 1;
    }
    // Of 40 intervals of 95 %, more than six miss with a probability below 0.5 %.
    expect(covered).toBeGreaterThanOrEqual(34);
  });

  it('have the short-term spread of single diameters: mean moving range over 1.128', () => {
    // NIST/SEMATECH e-Handbook 6.3.2.2. Each quarter metre 0.02, 0.04, 0.02 and 0 mm more or less: 0.02 mm on average.
    const at = Float64Array.from({ length: 201 }, (_, i) => i * 250);
    const d = at.map((_, i) => 1.75 + [0, 0.02, -0.02, 0][i % 4]!);
    const { capability, meanMm, lengthMm, unknownMm } = statistics(at, d);
    const ranges = d.slice(1).map((mm, i) => Math.abs(mm - d[i]!));
    const meanRange = ranges.reduce((a, b) => a + b) / 200;
    expect(meanRange).toBeCloseTo(0.02, 3);
    expect(capability?.cp.value).toBeCloseTo(0.1 / (6 * (meanRange / 1.128379)), 5);
    expect(capability?.cpk.value).toBeCloseTo((capability!.cp.value * (0.05 - Math.abs(meanMm - 1.75))) / 0.05, 9);
    expect([lengthMm, unknownMm]).toEqual([50_000, 0]);
  });

  it('say how far correlation and a short stretch mislead', () => {
    const slow = Float64Array.from({ length: 101 }, (_, i) => 1.75 + 0.02 * Math.sin(i / 8));
    const at = slow.map((_, i) => i * 250);
    const { individuals: single, warnings } = statistics(at, slow);
    expect(warnings).toHaveLength(2);
    const [, rho, factor] = /^Diameters 250 mm .*\(lag-1 autocorrelation ([\d.]+)\).* about ([\d.]+) times/.exec(
      warnings[0]!,
    )!;
    expect(Number(rho)).toBeCloseTo(single.lag1, 2);
    // σ within = σ√(1 − ρ).
    expect(Number(factor)).toBeCloseTo(1 / Math.sqrt(1 - single.lag1), 1);
    const worth = Number(
      /worth only about (\d+) independent samples; capability asks for about 50/.exec(warnings[1]!)![1],
    );
    expect(worth).toBe(Math.max(1, Math.floor(single.forMean)));
    // Twelve values that do not follow each other are only too few.
    const few = statistics(
      Float64Array.from({ length: 12 }, (_, i) => i * 250),
      normals(12, 4).map((z) => 1.75 + 0.01 * z),
      { individualsEveryMm: 250 },
    );
    expect(few.warnings).toEqual([expect.stringMatching(/^The stretch is worth only about/)]);
  });

  it('are taken from the samples nearest to even places', () => {
    const picked = (lengthMm: number[], spacingMm = 100, pitchMm = 50) => [
      ...individuals(lengthMm, lengthMm, spacingMm, pitchMm),
    ];
    expect(picked([1000, 1090, 1210, 1290, 1400])).toEqual([1000, 1090, 1210, 1290, 1400]);
    // Of two as near the later one; none that is further than half the spacing, or the pitch.
    expect(picked([0, 50, 150, 200])).toEqual([0, 150, 200]);
    expect(picked([0, 100, 250, 400, 500])).toEqual([0, 100, 250, 250, 400, 500]);
    expect(picked([0, 100, 249, 400, 500])).toEqual([0, 100, 249, Number.NaN, 400, 500]);
    expect(picked([0, 100, 400, 500], 100, 100)).toEqual([0, 100, 100, 400, 400, 500]);
    expect(picked([0, 99])).toEqual([0]);
    expect(picked([7])).toEqual([]);
    expect(() => picked([0, 1], 0)).toThrow(/0 mm apart/);
    // A fiftieth of a short spool, a quarter of a metre of a long one.
    const spacing = (lengthMm: number) =>
      statistics([0, lengthMm / 2, lengthMm], [1.75, 1.76, 1.75]).individuals.spacingMm;
    expect([spacing(5000), spacing(12_500), spacing(20_000)]).toEqual([100, 250, 250]);
  });

  it('have the diameters below which so much of the length is', () => {
    const at = Float64Array.from({ length: 201 }, (_, i) => i);
    const { quantilesMm } = statistics(
      at,
      at.map((mm) => 1.7 + mm / 1000),
    );
    const { p1, p5, p25, p50, p75, p95, p99 } = quantilesMm;
    const found = [p1, p5, p25, p50, p75, p95, p99].map((mm) => Math.round((mm - 1.7) * 1000));
    expect(found).toEqual([2, 10, 50, 100, 150, 190, 198]);
  });

  it('keep gaps and missing values as unknown length', () => {
    const at = Float64Array.from({ length: 1001 }, (_, i) => 90 + i + (i > 500 ? 200 : 0));
    const d = new Float64Array(1001).fill(1.75);
    d.fill(Number.NaN, 100, 200);
    const s = statistics(at, d);
    expect(s.lengthMm).toBe(1200);
    expect(s.unknownMm).toBe(201 + 100 - 0);
    expect(s.capability?.cp.value).toBe(Number.POSITIVE_INFINITY);
  });

  it('have results for no sample, one sample and no spread', () => {
    expect(statistics([], [])).toMatchObject({ lengthMm: 0, capability: null, warnings: [] });
    expect(statistics([5], [1.75]).capability).toBeNull();
    expect(statistics([0, 10, 20], [1.75, 1.75, 1.75]).capability?.cp.value).toBe(Number.POSITIVE_INFINITY);
    // Two readings have a spread; one that is picked twice, or two of which one is picked, have none.
    const every = (individualsEveryMm: number, at: number[], mm: number[]) =>
      statistics(at, mm, { individualsEveryMm }).capability;
    expect(every(100, [0, 100], [1.75, 1.76])?.pp.value).toBeCloseTo(0.1 / (6 * 0.01 * Math.SQRT1_2), 9);
    expect(every(100, [0, 100, 400, 500], [Number.NaN, 1.75, Number.NaN, Number.NaN])).toBeNull();
    expect(every(2000, [0, 1000], [1.75, 1.76])).toBeNull();
  });

  it('refuse arrays that do not fit, and a tolerance that leaves no band', () => {
    expect(() => strandBasis([0, 1], [1.75])).toThrow('2 positions do not fit 1 diameters');
    const basis = strandBasis([0, 1], [1.75, 1.75]);
    for (const toleranceMm of [0, Number.NaN])
      expect(() => statisticsAgainst(basis, { nominalMm: 1.75, toleranceMm })).toThrow(/leaves no band/);
  });

  it('refuse samples that run backwards', () => {
    expect(() => statistics([0, 5, 4], [1, 1, 1])).toThrow(/before the previous sample/);
  });

  it('have a negative autocorrelation for alternating diameters', () => {
    expect(autocorrelation([1, 2, 1, 2, 1, 2])).toBeLessThan(-0.8);
  });
});
