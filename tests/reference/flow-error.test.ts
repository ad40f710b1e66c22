import { describe, expect, it } from 'vitest';
import { flowError } from '../../server/strand/verdict/flow-error.ts';
import { jamChance } from '../../server/strand/verdict/jam-chance.ts';

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

describe('the chance of a jam', () => {
  it('is at most 1 − exp(−3.689 · share) where no oversize stretch was found', () => {
    const chance = jamChance(0, 300_000, 30_000)!;
    expect(chance.chance).toBe(0);
    expect(chance.upper).toBeCloseTo(1 - Math.exp(-0.3689), 4);
    expect(chance.sentence).toContain('at most');
  });
});
