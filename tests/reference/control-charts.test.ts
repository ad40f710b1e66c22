import { describe, expect, it } from 'vitest';
import { steadinessChart } from '../../server/strand/chart/steadiness.ts';
import { TabularCusum } from '../../server/strand/chart/tabular-cusum.ts';
import { D2 } from '../../server/strand/statistics/moving-range.ts';
import { normals } from '../strand/analysis/noise.ts';

describe('the factor for moving ranges of two', () => {
  it('rounds to that of printed tables', () => {
    // "Table A.22 Factors for constructing control charts", https://www.scribd.com/document/575462347; four decimals: 1.1284.
    expect(D2).toBeCloseTo(1.128, 3);
    expect(D2).toBeCloseTo(1.1284, 4);
  });
});

describe('CUSUM of a whole series', () => {
  // Flow of the Nile at Aswan 1871–1970, 10⁸ m³ (Cobb 1978, Biometrika 65; dataset Nile of R).
  const NILE = [
    1120, 1160, 963, 1210, 1160, 1160, 813, 1230, 1370, 1140, 995, 935, 1110, 994, 1020, 960, 1180, 799, 958, 1140,
    1100, 1210, 1150, 1250, 1260, 1220, 1030, 1100, 774, 840, 874, 694, 940, 833, 701, 916, 692, 1020, 1050, 969, 831,
    726, 456, 824, 702, 1120, 1100, 832, 764, 821, 768, 845, 864, 862, 698, 845, 744, 796, 1040, 759, 781, 865, 845,
    944, 984, 897, 822, 1010, 771, 676, 649, 846, 812, 742, 801, 1040, 860, 874, 848, 890, 744, 749, 838, 1050, 918,
    986, 797, 923, 975, 815, 1020, 906, 901, 1170, 912, 746, 919, 718, 714, 740,
  ];
  const chart = steadinessChart(Float64Array.from(NILE));

  it('gives the statistic of R’s strucchange for the Nile: S0 = 2.9518', () => {
    // sctest(efp(Nile ~ 1, type = "OLS-CUSUM")), documentation of strucchange (from memory); recomputed with NumPy.
    const sd = Math.sqrt(NILE.reduce((sum, x) => sum + (x - chart.target) ** 2, 0) / 99);
    expect(Math.max(...chart.sums.map(Math.abs)) / (sd * 10)).toBeCloseTo(2.9518, 4);
  });

  it('finds that the Nile fell after 1898, its 28th year, to the known levels', () => {
    // The dam of Aswan was begun in 1898; levels 1097.75 and 849.97 (Zeileis & al. 2003, Comput. Stat. Data Anal. 44).
    expect(chart.finding).toBe('step');
    expect(chart.change?.index).toBe(28);
    expect(chart.change?.before).toBeCloseTo(1097.75, 2);
    expect(chart.change?.after).toBeCloseTo(849.97, 2);
  });

  it('has a decision interval of 1.63 σ√n, the 1 % value of Kolmogorov’s distribution', () => {
    // scipy.special.kolmogi(0.01) = 1.6276236115; statsmodels, breaks_cusumolsresid: 1.63 at 1 %.
    const alternating = Float64Array.from({ length: 400 }, (_, i) => [1, 1, -1, -1, -1, 1, -1, 1][i % 8]!);
    // Uncorrelated by design at lag 1, and less than that in longer means: σ is that of single values.
    const { decision } = steadinessChart(alternating);
    expect(decision / Math.sqrt((400 * 400) / 397)).toBeGreaterThan(1.6276);
    expect(decision / Math.sqrt((400 * 400) / 397)).toBeLessThan(1.66);
  });
});

describe('tabular CUSUM', () => {
  it('gives all forty sums of Montgomery & Runger, Table 16-8', () => {
    // Applied Statistics and Probability for Engineers, Example 16-6, https://issuhub.com/view/index?id=5218&pageIndex=752
    const values = [
      102.0, 94.8, 98.3, 98.4, 102.0, 98.5, 99.0, 97.7, 100.0, 98.1, 101.3, 98.7, 101.1, 98.4, 97.0, 96.7, 100.3, 101.4,
      97.2, 101.0,
    ];
    const high = [2.0, 0, 0, 0, 2.0, 0.5, 0, 0, 0, 0, 1.3, 0, 1.1, 0, 0, 0, 0.3, 1.7, 0, 1.0];
    const low = [0, 3.2, 2.9, 2.5, 0, 0, 0, 0.3, 0, 0, 0, 0, 0, 0, 1.0, 2.3, 0, 0, 0.8, 0];
    const cusum = new TabularCusum<number>();
    for (let i = 0; i < 20; i++) {
      cusum.step(i, values[i]! - 99, 1);
      expect(cusum.high).toBeCloseTo(high[i]!, 9);
      expect(cusum.low).toBeCloseTo(low[i]!, 9);
    }
  });

  it('passes the decision interval at the 14th value of the NIST/SEMATECH example, since the 13th', () => {
    // NIST/SEMATECH e-Handbook 6.3.2.3 (pmc323.htm); data from memory, sums recomputed.
    const values = [
      324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15, 328.325,
      327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
    ];
    const cusum = new TabularCusum<number>();
    const highs = values.map((value, i) => {
      cusum.step(i, value - 325, 0.3175);
      return cusum.high;
    });
    const published = [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.0, 19.04];
    published.forEach((value, i) => {
      expect(Math.abs(highs[12 + i]! - value)).toBeLessThanOrEqual(0.0101);
    });
    expect(highs.findIndex((sum) => sum > 4.1959)).toBe(13);
    expect(cusum.since).toBe(12);
    expect(cusum.larger).toBe(cusum.high);
    // The same downwards.
    const mirrored = new TabularCusum<number>();
    values.forEach((value, i) => {
      mirrored.step(i, 325 - value, 0.3175);
    });
    expect([mirrored.low, mirrored.larger, mirrored.since]).toEqual([cusum.high, cusum.high, 12]);
    mirrored.reset();
    expect([mirrored.high, mirrored.low, mirrored.larger]).toEqual([0, 0, 0]);
  });

  it('runs for 168 values in control at h = 4, and for 465 at h = 5', () => {
    // Average run lengths of a two-sided CUSUM with k = 0.5: NIST/SEMATECH e-Handbook 6.3.2.3 (Montgomery, table 9-3; from
    // memory). Simulated with independent normal values.
    const values = normals(1_500_000, 1);
    for (const [decision, published] of [
      [4, 168],
      [5, 465],
    ] as const) {
      const cusum = new TabularCusum<number>();
      let runs = 0;
      let last = 0;
      values.forEach((value, i) => {
        cusum.step(i, value, 0.5);
        if (cusum.larger <= decision) return;
        runs += 1;
        last = i + 1;
        cusum.reset();
      });
      expect(Math.abs(last / runs / published - 1)).toBeLessThan(0.06);
    }
  });
});
