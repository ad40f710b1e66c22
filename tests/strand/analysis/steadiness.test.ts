import { describe, expect, it } from 'vitest';
import { steadinessChart } from '../../../server/strand/chart/steadiness.ts';
import { casesOf, IS_LONG_CHECK, tries } from '../../long-check.ts';
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

/** A slow wander over `slowM` under fast noise; `share` of its spread. */
function mixed(seed: number, share: number, slowM: number): Float64Array {
  const slow = spool(seed + 50_000, slowM);
  return spool(seed, 0.1).map((mm, i) => mm + share * (slow[i]! - 1.75));
}

/** Wander over all lengths alike: a sum of first-order series falls as 1/f between the shortest and the longest. */
function flicker(seed: number): Float64Array {
  const parts = [1, 5, 25, 125, 625].map((correlationM, k) => spool(10 * seed + k, correlationM));
  return parts[0]!.map((_, i) => parts.reduce((sum, part) => sum + part[i]! - 1.75, 1.75));
}

function randomWalk(seed: number): Float64Array {
  let mm = 1.75;
  return normals(100, seed).map((z) => {
    mm += 0.003 * z;
    return mm;
  });
}

const isUnsteady = (values: Float64Array) => ['step', 'creep'].includes(steadinessChart(values).finding);

const seeds = (count: number) => Array.from({ length: count }, (_, i) => i + 1);

describe('the control chart of a spool', () => {
  const steady: readonly (readonly [string, (seed: number) => Float64Array])[] = [
    ['5 m', (seed) => spool(seed, 5)],
    ['60 m, with a third of its spread, under fast noise', (seed) => mixed(seed, 1 / 3, 60)],
    ['all lengths alike: 1/f noise', flicker],
    ['30 m, with a third of its spread, under fast noise', (seed) => mixed(seed, 1 / 3, 30)],
    ['60 m, with a tenth of its spread, under fast noise', (seed) => mixed(seed, 1 / 10, 60)],
    ['all of it: a random walk', randomWalk],
    ...[0, 1, 10, 30, 100].map((m) => [`${m} m`, (seed: number) => spool(seed, m)] as const),
  ];
  it.each(casesOf(steady, 2))(
    'calls at most one steady spool in a hundred unsteady that wanders over %s',
    (_, values) => {
      // At most one in a hundred is expected; so many more would come once in sixty times.
      const [count, most] = IS_LONG_CHECK ? [200, 5] : [50, 2];
      expect(seeds(count).filter((seed) => isUnsteady(values(seed))).length).toBeLessThanOrEqual(most);
    },
  );

  it('finds a large step even where the diameter wanders', () => {
    const found = (values: (seed: number) => Float64Array, stepMm: number) =>
      seeds(100).filter((seed) => isUnsteady(values(seed).map((mm, i) => (i < 60 ? mm : mm + stepMm)))).length;
    expect(found((seed) => spool(seed, 5), 0.06)).toBeGreaterThan(80);
    expect(found((seed) => mixed(seed, 1 / 3, 30), 0.045)).toBeGreaterThan(80);
  });

  const likeStrands: readonly (readonly [string, (seed: number) => Float64Array])[] = [
    ['wandering over 30 m under fast noise', (seed) => mixed(seed, 1 / 3, 30)],
    ['fast noise', (seed) => spool(seed, 0)],
    ['1/f noise', flicker],
    ['correlated over 1 m', (seed) => spool(seed, 1)],
    ['correlated over 10 m', (seed) => spool(seed, 10)],
    ['wandering over 60 m under fast noise', (seed) => mixed(seed, 1 / 3, 60)],
  ];
  it.each(casesOf(likeStrands, 1))(
    'says how large a step in the middle would be found in four of five spools: %s',
    (_, values) => {
      const told = seeds(tries(60, 1 / 3)).map((seed) => steadinessChart(values(seed)).smallestStep!);
      const typical = told.sort((a, b) => a - b)[told.length >> 1]!;
      const found = (stepMm: number) =>
        seeds(100).filter((seed) => isUnsteady(values(seed + 1000).map((mm, i) => (i < 50 ? mm : mm + stepMm)))).length;
      // 80 % ± two errors of counting so few.
      expect(found(typical)).toBeGreaterThan(72);
      // Nor is it far too large: 16 to 29 of 100 with more seeds.
      expect(found(0.4 * typical)).toBeLessThan(50);
    },
  );

  it('tells where the level changed, and by how much', () => {
    let covered = 0;
    let found = 0;
    for (const seed of seeds(200)) {
      const values = spool(seed, 1).map((mm, i) => (i < 60 ? mm : mm + 0.03));
      const { finding, change } = steadinessChart(values);
      if (finding !== 'step' || change === null) continue;
      found += 1;
      expect(change.after - change.before).toBeGreaterThan(0.02);
      expect(change.after - change.before).toBeLessThan(0.04);
      if (Math.abs(change.index - 60) <= change.indexUncertainty) covered += 1;
    }
    expect(found).toBeGreaterThan(180);
    expect(covered / found).toBeGreaterThan(0.93);
  });

  it('gives no smallest step where a change is found, or where no value differs', () => {
    const stepped = normals(100, 3).map((z, i) => 1.75 + 0.004 * z + (i < 50 ? 0 : 0.04));
    expect(steadinessChart(stepped)).toMatchObject({ finding: 'step', smallestStep: null });
    // 95 % of places are within 11 (σ/shift)² (Bai 1997), to the next point.
    expect(steadinessChart(stepped).change?.indexUncertainty).toBeCloseTo(1 + 11 * 0.1 ** 2, 1);
    expect(steadinessChart(new Float64Array(50).fill(1.7512)).smallestStep).toBeNull();
  });

  it.each([0.004, -0.004])('gives as the smallest step 1.8 times the one that is found up and down: %f', (mm) => {
    const values = normals(60, 2).map((z) => 1.75 + mm * z);
    const step = steadinessChart(values).smallestStep! / 1.8;
    const isFound = (by: number) => isUnsteady(values.map((value, i) => (i < 30 ? value : value + by)));
    expect([isFound(step), isFound(-step)]).toEqual([true, true]);
    expect(isFound(step / 1.06) && isFound(-step / 1.06)).toBe(false);
  });

  it('gives steps on the scale of the values, wherever its zero is', () => {
    const values = normals(60, 2).map((z) => 1.75 + 0.004 * z);
    const step = steadinessChart(values).smallestStep!;
    expect(steadinessChart(values.map((mm) => 300 * (mm - 2))).smallestStep! / step).toBeCloseTo(300, 6);
  });

  it('takes what it fits out of the spread, so a larger change with a slope has the same decision interval', () => {
    const noise = normals(100, 4).map((z) => 1.75 + 0.004 * z);
    const decision = (stepMm: number, slopeMm: number) =>
      steadinessChart(noise.map((mm, i) => mm + slopeMm * i + (i < 70 ? 0 : stepMm))).decision;
    const others = [decision(0.06, 0), decision(0.06, 0.0002), decision(0.12, -0.0002)];
    for (const other of others) expect(other / decision(0.03, 0)).toBeCloseTo(1, 9);
  });

  it('finds a small change that lasts, which no single point shows', () => {
    const found = seeds(100).filter((seed) => {
      const values = normals(100, seed).map((z, i) => 1.75 + 0.004 * z + (i < 50 ? 0 : 0.008));
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
    const bare = steadinessChart(Float64Array.from({ length: 100 }, (_, i) => 1.74 + 0.0003 * (i + 0.5)));
    expect(bare).toMatchObject({ finding: 'creep', change: { index: 50 } });
    expect(bare.change?.before).toBeCloseTo(1.74, 9);
    expect(bare.change?.after).toBeCloseTo(1.77, 9);
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

  it.each([100, 400])('decides by the supremum of a Brownian bridge over %i independent points', (count) => {
    // 1.6276 σ √n (Kolmogorov 1933; scipy.special.kolmogi(0.01)), with σ estimated from each series.
    const shares = seeds(30).map((seed) => steadinessChart(normals(count, seed)).decision / Math.sqrt(count));
    const median = shares.sort((a, b) => a - b)[15]!;
    expect(Math.abs(median / 1.6276 - 1)).toBeLessThan(0.1);
  });

  it('takes equal values as steady, and a bare step as a step', () => {
    // Their deviations from the mean are rounding errors, larger for more and for larger values.
    for (const [count, value] of [
      [50, 1.7512],
      [997, 1.7512],
      [997, -1.7],
      [333, 1e6 / 3],
      [333, 1e-6 / 3],
    ] as const)
      expect(steadinessChart(new Float64Array(count).fill(value))).toMatchObject({ finding: 'steady', decision: 0 });
    expect(steadinessChart(new Float64Array(50).map((_, i) => (i < 20 ? 1.75 : 1.76))).finding).toBe('step');
    expect(() => steadinessChart(new Float64Array(49))).toThrow(/49 points/);
  });
});
