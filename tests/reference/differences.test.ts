import { describe, expect, it } from 'vitest';
import { betaQuantile, incompleteBeta } from '../../server/probability/beta.ts';
import { studentHalfWidth, studentTwoSided } from '../../server/probability/student-t.ts';
import { runsNeeded } from '../../server/strand/comparison/runs-needed.ts';
import {
  holm,
  intervalOf,
  meanOfRepeats,
  oneAgainstSeveral,
  welch,
} from '../../server/strand/statistics/differences.ts';

describe("Student's t", () => {
  it('has the tabled quantiles', () => {
    // NIST/SEMATECH e-Handbook 1.3.6.7.2, from memory: 12.706, 2.228, 2.086; whole digits by SciPy.
    expect(studentHalfWidth(0.95, 1)).toBeCloseTo(12.706204736, 8);
    expect(studentHalfWidth(0.95, 10)).toBeCloseTo(2.228138852, 8);
    expect(studentHalfWidth(0.95, 20)).toBeCloseTo(2.086, 3);
    // Degrees of freedom that are not whole: SciPy 1.17.
    expect(studentHalfWidth(0.95, 2.5)).toBeCloseTo(3.574654841, 8);
    expect(studentTwoSided(2.228138852, 10)).toBeCloseTo(0.05, 9);
    expect(studentTwoSided(0, 3)).toBe(1);
  });

  it('is based on the incomplete beta function', () => {
    // SciPy 1.17: beta.cdf(0.3, 2.5, 7), beta.ppf(0.025, 3, 9). I_x(1, b) = 1 − (1 − x)^b.
    expect(incompleteBeta(0.3, 2.5, 7)).toBeCloseTo(0.6412224629717214, 12);
    expect(betaQuantile(0.025, 3, 9)).toBeCloseTo(0.06021773417290665, 12);
    expect(incompleteBeta(0.2, 1, 4)).toBeCloseTo(1 - 0.8 ** 4, 13);
  });
});

describe("Welch's test", () => {
  it('gives what R gives for the sleep data of Student', () => {
    // R datasets::sleep, example of t.test (from memory: t = −1.8608, df = 17.776, p = 0.07939, −3.3654832 to 0.2054832).
    // Student 1908, Biometrika 6; SciPy gives the same.
    const first = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
    const second = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];
    const found = welch(meanOfRepeats(second)!, meanOfRepeats(first)!)!;
    expect(found.t).toBeCloseTo(-1.8608, 4);
    expect(found.degreesOfFreedom).toBeCloseTo(17.776, 3);
    expect(found.p).toBeCloseTo(0.07939, 5);
    expect(found.lower).toBeCloseTo(-3.3654832, 6);
    expect(found.upper).toBeCloseTo(0.2054832, 6);
  });

  it('gives the worked example of unequal variances', () => {
    // Wikipedia, "Student's t-test", worked example: t = 1.959, 7.03 degrees of freedom, p = 0.09077.
    const screws1 = [30.02, 29.99, 30.11, 29.97, 30.01, 29.99];
    const screws2 = [29.89, 29.93, 29.72, 29.98, 30.02, 29.98];
    const found = welch(meanOfRepeats(screws2)!, meanOfRepeats(screws1)!)!;
    expect(found.t).toBeCloseTo(1.959, 3);
    expect(found.degreesOfFreedom).toBeCloseTo(7.03, 2);
    expect(found.p).toBeCloseTo(0.09077, 5);
  });

  it('has no result for values without any spread', () => {
    expect(welch(meanOfRepeats([1, 1])!, meanOfRepeats([2, 2])!)).toBeNull();
    expect(meanOfRepeats([1])).toBeNull();
  });
});

describe('one value compared with several', () => {
  it('is the test of Crawford and Howell', () => {
    // t = (x − m)/(s √((n + 1)/n)), as given at https://www.r-bloggers.com/crawford-howell-1998-t-test-for-case-control-comparisons/;
    // calculated with SciPy for 15 against 12.1, 10.4, 11.3, 9.9.
    const found = oneAgainstSeveral([12.1, 10.4, 11.3, 9.9], 15)!;
    expect(found.t).toBeCloseTo(3.741117663, 8);
    expect(found.p).toBeCloseTo(0.033318948, 8);
    expect(found.degreesOfFreedom).toBe(3);
  });

  it('has no result for two single values', () => {
    expect(oneAgainstSeveral([12.1], 15)).toBeNull();
  });
});

describe('several tests at once', () => {
  it('are adjusted by the method of Holm', () => {
    // The example of https://www.geeksforgeeks.org/data-science/holm-bonferroni-method/: of 0.01, 0.04, 0.03 and 0.005 the
    // first and the last are significant at 0.05. Numbers by hand: 3·0.01, then 2·0.03 for both others, 4·0.005.
    const adjusted = holm([0.01, 0.04, null, 0.03, 0.005]);
    expect(adjusted).toEqual([
      expect.closeTo(0.03, 12),
      expect.closeTo(0.06, 12),
      null,
      expect.closeTo(0.06, 12),
      expect.closeTo(0.02, 12),
    ]);
  });
});

describe('the runs needed to see a difference', () => {
  it('are those of the exact power of a t test, or one more or less', () => {
    // data/runs-needed.py, with SciPy’s noncentral t. The first is 16.7 in the documentation of R’s power.t.test.
    const exact: [size: number, spread: number, alpha: number, runs: number][] = [
      [1, 1, 0.05, 17],
      [1.5, 1, 0.05, 9],
      [2, 1, 0.05, 6],
      [3, 1, 0.05, 4],
      [0.7, 0.3, 0.0045, 8],
      [0.223, 0.1, 0.0045, 8],
      [2, 1, 0.0045, 9],
    ];
    for (const [size, spread, alpha, runs] of exact)
      expect(Math.abs(runsNeeded(size, spread, alpha) - runs)).toBeLessThanOrEqual(1);
    expect(runsNeeded(0.5, 1, 0.05)).toBe(Number.POSITIVE_INFINITY);
    expect(runsNeeded(1, 0, 0.05)).toBe(2);
  });
});

describe('the interval of a mean', () => {
  it('is the one of the e-Handbook', () => {
    // NIST/SEMATECH e-Handbook 1.3.5.2, data ZARR13 (from memory): n = 195, mean 9.26146, s = 0.02279: 9.25824 to 9.26468.
    const { lower, upper } = intervalOf({
      value: 9.26146,
      standardError: 0.02279 / Math.sqrt(195),
      degreesOfFreedom: 194,
    });
    expect(lower).toBeCloseTo(9.25824, 4);
    expect(upper).toBeCloseTo(9.26468, 4);
  });
});
