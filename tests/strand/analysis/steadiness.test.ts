import { describe, expect, it } from 'vitest';
import { steadinessChart } from '../../../server/strand/chart/steadiness.ts';
import { ar1, normals } from './noise.ts';

/** Means of 100 equal lengths of strand whose diameter is correlated over `correlationM`, σ = 0.015 mm. */
function spool(seed: number, correlationM: number, lengthM = 330): Float64Array {
  const [points, cells] = [100, 20];
  const cellM = lengthM / points / cells;
  const strand = correlationM === 0 ? normals(2000, seed) : ar1(2000, Math.exp(-cellM / correlationM), seed);
  return Float64Array.from({ length: points }, (_, i) => {
    const part = strand.subarray(i * cells, (i + 1) * cells);
    return 1.75 + (0.015 * part.reduce((a, b) => a + b)) / cells;
  });
}

const seeds = (count: number) => Array.from({ length: count }, (_, i) => i + 1);

describe('the control chart of a spool', () => {
  it('calls at most one steady spool in a hundred unsteady, however long its diameter is correlated', () => {
    for (const correlationM of [0, 1, 5, 10, 30, 100]) {
      const found = seeds(400).filter((seed) => {
        const { finding } = steadinessChart(spool(seed, correlationM));
        return finding === 'step' || finding === 'creep';
      });
      // Four are expected at most; nine or more would come once in fifty times.
      expect(found.length, `${correlationM} m`).toBeLessThanOrEqual(8);
    }
  });

  it('tells where the level changed, and by how much', () => {
    let covered = 0;
    let found = 0;
    for (const seed of seeds(200)) {
      const values = spool(seed, 1).map((mm, i) => (i < 60 ? mm : mm + 0.02));
      const { finding, change } = steadinessChart(values);
      if (finding !== 'step' || change === null) continue;
      found += 1;
      expect(change.after - change.before).toBeGreaterThan(0.01);
      expect(change.after - change.before).toBeLessThan(0.03);
      if (Math.abs(change.index - 60) <= change.indexUncertainty) covered += 1;
    }
    expect(found).toBeGreaterThan(180);
    expect(covered / found).toBeGreaterThan(0.93);
  });

  it('finds a small change that lasts, which no single point shows', () => {
    const found = seeds(100).filter((seed) => {
      const values = normals(100, seed).map((z, i) => 1.75 + 0.004 * z + (i < 50 ? 0 : 0.004));
      return steadinessChart(values).finding === 'step';
    });
    expect(found.length).toBeGreaterThan(80);
  });

  it('calls it a creep if it moved all along, and gives the levels at both ends', () => {
    const values = normals(100, 7).map((z, i) => 1.74 + 0.0003 * (i + 0.5) + 0.003 * z);
    const { finding, change } = steadinessChart(values);
    expect(finding).toBe('creep');
    expect(change?.before).toBeCloseTo(1.74, 2);
    expect(change?.after).toBeCloseTo(1.77, 2);
  });

  it('does not judge a spool shorter than its diameter wanders', () => {
    const unknown = seeds(100).filter((seed) => steadinessChart(spool(seed, 60)).finding === 'unknown');
    expect(unknown.length).toBeGreaterThan(95);
  });

  it('sums deviations from the mean of the spool, which end at nothing', () => {
    const values = Float64Array.from({ length: 60 }, (_, i) => (i < 30 ? 1 : 3) + (i % 2 === 0 ? 0.1 : -0.1));
    const { target, sums, finding, change } = steadinessChart(values);
    expect(target).toBeCloseTo(2, 12);
    expect(sums[0]).toBeCloseTo(-0.9, 12);
    expect(sums[29]).toBeCloseTo(-30, 12);
    expect(sums[59]).toBeCloseTo(0, 12);
    expect(finding).toBe('step');
    expect(change?.index).toBe(30);
    expect(change?.before).toBeCloseTo(1, 12);
    expect(change?.after).toBeCloseTo(3, 12);
  });

  it('takes equal values as steady, and a bare step as a step', () => {
    expect(steadinessChart(new Float64Array(50).fill(1.7512)).finding).toBe('steady');
    expect(steadinessChart(new Float64Array(50).map((_, i) => (i < 20 ? 1.75 : 1.76))).finding).toBe('step');
    expect(() => steadinessChart(new Float64Array(49))).toThrow(/49 points/);
  });
});
