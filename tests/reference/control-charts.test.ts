import { describe, expect, it } from 'vitest';
import { normalCdf } from '../../server/probability/distributions.ts';
import { D2, D4 } from '../../server/strand/chart/chart-constants.ts';
import { cusumChart } from '../../server/strand/chart/cusum-chart.ts';
import { ewmaChart } from '../../server/strand/chart/ewma-chart.ts';
import { individualsChart } from '../../server/strand/chart/individuals-chart.ts';
import { runSignals } from '../../server/strand/chart/run-rules.ts';

// NIST/SEMATECH e-Handbook 6.3.2.4, https://www.itl.nist.gov/div898/handbook/pmc/section3/pmc324.htm; its last ten
// values are also the example of 6.3.2.2 (pmc322.htm).
const NIST = [
  52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6,
  52.1,
];

// SAS/QC User's Guide, MACONTROL Example 9.4 (diameters of clips),
// https://support.sas.com/documentation/cdl/en/qcug/63964/HTML/default/qcug_macontrol_a0000000363.htm
const SAS_DIAMETERS = [
  24.05, 23.99, 23.95, 23.93, 23.97, 24.02, 24.06, 24.1, 23.98, 24.03, 23.91, 24.06, 24.06, 23.96, 23.98, 24.06, 24.01,
  24.0, 23.93, 23.92, 24.09, 24.11, 24.05, 23.98, 23.98, 24.06, 24.02, 24.06, 23.97, 23.96,
];

describe('factors for moving ranges of two', () => {
  it('round to those of printed tables', () => {
    // "Table A.22 Factors for constructing control charts", https://www.scribd.com/document/575462347
    expect(D2).toBeCloseTo(1.128, 3);
    expect(D4).toBeCloseTo(3.267, 3);
    // E2, half the width of the individuals chart in mean moving ranges.
    const { upper, centre, meanMovingRange } = individualsChart(NIST);
    expect((upper - centre) / meanMovingRange).toBeCloseTo(2.66, 2);
    // Four decimals: 1.1284, 3.2665.
    expect(D2).toBeCloseTo(1.1284, 4);
    expect(D4).toBeCloseTo(3.2665, 4);
  });
});

describe('individuals and moving ranges', () => {
  it('give the limits of NIST/SEMATECH 6.3.2.2', () => {
    const chart = individualsChart(NIST.slice(10));
    expect(chart.centre).toBeCloseTo(50.81, 10);
    expect(chart.meanMovingRange).toBeCloseTo(1.8778, 4);
    // The handbook rounds d2 to 1.128, which moves the limits by 0.002.
    expect(chart.upper).toBeCloseTo(55.8041, 2);
    expect(chart.lower).toBeCloseTo(45.8159, 2);
    expect(chart.centre + (3 * chart.meanMovingRange) / 1.128).toBeCloseTo(55.8041, 3);
    expect(chart.beyond).toEqual([]);
  });

  it('give all printed digits of a SAS/QC example of diameters', () => {
    const chart = individualsChart(SAS_DIAMETERS);
    expect(chart.centre).toBeCloseTo(24.0083, 4);
    expect(chart.meanMovingRange).toBeCloseTo(0.056897, 6);
    expect(chart.sigma).toBeCloseTo(0.050423, 6);
    expect(chart.lower).toBeCloseTo(23.8571, 4);
    expect(chart.upper).toBeCloseTo(24.1596, 4);
    expect(chart.movingRangeUpper).toBeCloseTo(0.18585, 5);
    expect(chart.rangesBeyond).toEqual([]);
    // The false-alarm share that the same page prints.
    expect(2 * normalCdf(-3)).toBeCloseTo(0.002699796, 9);
  });

  it('give the limits of a textbook exercise', () => {
    // Montgomery & Runger, Applied Statistics and Probability for Engineers, 15-4 exercise 17
    // (questionai.com/amp/textbooksolution-120656): mean 53.05, ranges as listed.
    const ranges = [1, 2, 1, 0, 4, 1, 2, 1, 5, 5, 6, 1, 8, 3, 1, 2, 4, 6, 3];
    // A series with those ranges and the published mean.
    const steps = [0];
    for (const range of ranges) steps.push(steps.at(-1)! + (steps.at(-1)! > 0 ? -range : range));
    const shift = 53.05 - steps.reduce((sum, x) => sum + x, 0) / steps.length;
    const chart = individualsChart(steps.map((x) => x + shift));
    expect(chart.meanMovingRange).toBeCloseTo(2.947, 3);
    expect(chart.sigma).toBeCloseTo(2.613, 2);
    expect(chart.upper).toBeCloseTo(60.888, 1);
    expect(chart.lower).toBeCloseTo(45.212, 1);
    expect(chart.movingRangeUpper).toBeCloseTo(9.628, 2);
  });

  it('take no range across a gap', () => {
    const chart = individualsChart([1, 2, Number.NaN, 9, 10]);
    expect(chart.meanMovingRange).toBe(1);
    expect(chart.movingRanges[3]).toBeNaN();
  });
});

describe('EWMA', () => {
  it('gives the 21 values and both limits of NIST/SEMATECH 6.3.2.4', () => {
    const chart = ewmaChart(NIST, { target: 50, sigma: 2.0539, lambda: 0.3 });
    const published = [
      50.6, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33, 50.11, 49.36, 49.52, 50.05, 49.38, 49.92,
      50.73, 51.23, 51.94, 51.99,
    ];
    published.forEach((value, i) => {
      expect(Math.abs(chart.averages[i]! - value)).toBeLessThanOrEqual(0.00501);
    });
    expect(chart.upper[19]).toBeCloseTo(52.5884, 4);
    // The handbook cuts 47.41157 to 47.4115.
    expect(chart.lower[19]).toBeCloseTo(47.4116, 4);
    expect(chart.beyond).toEqual([]);
  });

  it('has narrower limits for the first values, and settles at the final ones', () => {
    const values = new Float64Array(60).fill(50);
    const exact = ewmaChart(values, { target: 50, sigma: 2, lambda: 0.3 });
    // After one value the average is λx + (1 − λ)·target: its spread is λσ.
    expect(exact.upper[0]).toBeCloseTo(50 + 3 * 0.3 * 2, 12);
    expect(exact.upper[59]).toBeCloseTo(50 + 3 * 2 * Math.sqrt(0.3 / 1.7), 9);
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
    const chart = cusumChart(values, { target: 99, allowance: 1, decision: 10 });
    for (let i = 0; i < 20; i++) {
      expect(chart.high[i]).toBeCloseTo(high[i]!, 9);
      expect(chart.low[i]).toBeCloseTo(low[i]!, 9);
    }
    expect(chart.signal).toBeNull();
  });

  it('signals at the 14th value of the NIST/SEMATECH example', () => {
    // NIST/SEMATECH e-Handbook 6.3.2.3 (pmc323.htm); data from memory, sums recomputed.
    const values = [
      324.925, 324.675, 324.725, 324.35, 325.35, 325.225, 324.125, 324.525, 325.225, 324.6, 324.625, 325.15, 328.325,
      327.25, 327.825, 328.5, 326.675, 327.775, 326.875, 328.35,
    ];
    const chart = cusumChart(values, { target: 325, allowance: 0.3175, decision: 4.1959 });
    const published = [3.01, 4.94, 7.45, 10.63, 11.99, 14.44, 16.0, 19.04];
    published.forEach((value, i) => {
      expect(Math.abs(chart.high[12 + i]! - value)).toBeLessThanOrEqual(0.0101);
    });
    expect(chart.signal).toEqual({ index: 13, side: 'high', since: 12 });
  });
});

describe('Western Electric rules', () => {
  // numerics.net documentation, ControlRuleSets.WesternElectric; 8 in a row as NIST/SEMATECH 6.3.2 has it.
  it('find each of the four patterns, at the value that completes it', () => {
    const rulesAt = (values: number[]): string[] =>
      runSignals(values, 0, 1).map((s) => `${s.index} ${s.rule} ${s.side}`);
    expect(rulesAt([0.5, 3.1])).toEqual(['1 beyond3Sigma high']);
    expect(rulesAt([2.1, -0.1, 2.2])).toEqual(['2 twoOfThreeBeyond2Sigma high']);
    expect(rulesAt([-1.1, -1.2, 0.1, -1.3, -1.4])).toEqual(['4 fourOfFiveBeyond1Sigma low']);
    expect(rulesAt([0.1, 0.2, 0.1, 0.3, 0.1, 0.2, 0.1, 0.3])).toEqual(['7 eightOnOneSide high']);
    expect(rulesAt([2.1, -2.1, 2.1, Number.NaN, 2.2])).toEqual(['2 twoOfThreeBeyond2Sigma high']);
  });
});
