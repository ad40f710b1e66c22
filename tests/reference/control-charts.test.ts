import { describe, expect, it } from 'vitest';
import { steadinessChart } from '../../server/strand/chart/steadiness.ts';
import { D2 } from '../../server/strand/statistics/moving-range.ts';

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
