import { describe, expect, it } from 'vitest';
import { flowError } from '../../server/strand/verdict/flow-error.ts';
import { atMost } from '../../server/strand/verdict/missed-blobs.ts';

describe('flow error', () => {
  it('is the error of the cross-section, as calculated by hand', () => {
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
      expect(flow.worstAfterCorrection[0]?.most?.error).toBeCloseTo(0, 12);
    }
  });
});

describe('the blobs that a gauge misses', () => {
  it('are bounded by the one-sided rule of three: −ln 0.05 = 2.996 where none was found', () => {
    // Garwood 1936; the "rule of three" of Hanley & Lippman-Hand 1983, JAMA 249.
    expect(atMost(0)).toBeCloseTo(-Math.log(0.05), 6);
    // qchisq(0.95, 2·4)/2 and qchisq(0.95, 2·11)/2, by SciPy: scipy.stats.chi2.ppf(0.95, 8) / 2, chi2.ppf(0.95, 22) / 2.
    expect(atMost(3)).toBeCloseTo(7.7537, 3);
    expect(atMost(10)).toBeCloseTo(16.9622, 3);
  });
});
