import { describe, expect, it } from 'vitest';
import { type CapabilityInput, capability } from '../../server/strand/statistics/capability.ts';

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

  it('refuses limits in the wrong order', () => {
    expect(() => capability(input({ lowerMm: 21 }))).toThrow(/wrong order/);
  });
});
