import { describe, expect, it } from 'vitest';
import { driftEvidence } from '../../../server/strand/trend/drift-evidence.ts';
import { ar1, normals } from './noise.ts';

/** Means of a metre each. */
function metres(values: ArrayLike<number>, addMm: (atMm: number) => number = () => 0) {
  return Array.from(values, (z, i) => ({
    fromMm: 1000 * i,
    toMm: 1000 * (i + 1),
    meanMm: 1.75 + 0.005 * z + addMm(1000 * (i + 0.5)),
  }));
}

const rise = (fromMm: number, toMm: number) => (atMm: number) =>
  0.05 * Math.min(1, Math.max(0, (atMm - fromMm) / (toMm - fromMm)));

describe('the evidence for a drift', () => {
  it.each([
    [90, 60_000, 90_000],
    [250, 150_000, 250_000],
    [330, 230_000, 330_000],
  ])('is strong where the mean of %i m has been rising since a place', (count, fromMm, toMm) => {
    expect(driftEvidence(metres(normals(count, 3), rise(fromMm, toMm)), fromMm)).toBeGreaterThan(19);
  });

  it('is strong, too, where it rose and stayed', () => {
    const found = metres(normals(200, 4), rise(100_000, 150_000));
    expect(driftEvidence(found, 100_000)).toBeGreaterThan(19);
    // A rise that starts elsewhere explains less.
    expect(driftEvidence(found, 20_000)).toBeLessThan(driftEvidence(found, 100_000));
  });

  it('is weak on noise, and where the mean wanders as far', () => {
    expect(driftEvidence(metres(normals(200, 5)), 120_000)).toBeLessThan(19);
    expect(driftEvidence(metres(ar1(200, 0.98, 6).map((z) => 4 * z)), 120_000)).toBeLessThan(19);
  });

  it('is none in a few metres', () => {
    expect(driftEvidence(metres(normals(9, 7), rise(5000, 9000)), 5000)).toBe(0);
    expect(driftEvidence(metres(normals(10, 7), rise(5000, 10_000)), 5000)).toBeGreaterThan(0);
  });

  it('leaves out the first metres where they make no whole mean', () => {
    // 202 metres make 67 means of three.
    const [first, ...rest] = metres(normals(202, 8), rise(100_000, 150_000));
    expect(driftEvidence([{ ...first!, meanMm: 2.2 }, ...rest], 100_000)).toBe(
      driftEvidence([first!, ...rest], 100_000),
    );
  });
});
