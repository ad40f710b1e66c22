import { describe, expect, it } from 'vitest';
import { adviceOfTrend } from '../../server/strand/advice.ts';
import { causesOf } from '../../server/strand/spectrum/named-causes.ts';
import type { StrandAdvisory } from '../../server/strand/trend/advisory.ts';
import { StrandTrend } from '../../server/strand/trend/strand-trend.ts';
import { createSimulation } from '../../simulator/index.ts';
import { casesOf, tries } from '../long-check.ts';
import { ar1 } from './analysis/noise.ts';
import { generateStrand } from './generated-strand.ts';

const LIMITS = { nominalMm: 1.75, toleranceMm: 0.05, strandPresentMm: 0.5 };
const USUAL = { speedMmPerS: 35, readingsPerS: 20 };

function trendsOf(
  strand: {
    readonly timeMs: ArrayLike<number>;
    readonly gaugeMm: ArrayLike<number>;
    readonly diameterMm: ArrayLike<number>;
  },
  add: (atMm: number, timeMs: number) => number = () => 0,
  look: (trend: StrandTrend, i: number) => void = () => {},
): readonly StrandAdvisory[] {
  const trend = new StrandTrend(LIMITS);
  for (let i = 0; i < strand.timeMs.length; i++) {
    const at = strand.gaugeMm[i] as number;
    const time = strand.timeMs[i] as number;
    trend.step(time, at, (strand.diameterMm[i] as number) + add(at, time));
    look(trend, i);
  }
  trend.interrupt();
  return trend.advisories();
}

/** Readings of a scenario once its strand has settled, at 25 readings a second. */
function simulated(scenario: string, seconds: number) {
  const simulation = createSimulation({ scenario, seed: 5, rateHz: 25, fields: ['d'] });
  simulation.advanceTo(75);
  const timeMs: number[] = [];
  const gaugeMm: number[] = [];
  const diameterMm: number[] = [];
  for (let i = 0; i < 25 * seconds; i++) {
    simulation.step();
    timeMs.push(simulation.timeS * 1000);
    gaugeMm.push(simulation.line.puller.rollerMm);
    diameterMm.push(simulation.line.gauge.meanMm);
  }
  return { timeMs, gaugeMm, diameterMm };
}

describe('drift', () => {
  const even = generateStrand({ ...USUAL, seed: 3, lengthMm: 150_000, noiseMm: 0.012 });

  it('is found where the mean leaves its level, with its size and where the strand is steady again', () => {
    const [drift, ...others] = trendsOf(even, (at) => 0.03 * Math.min(1, Math.max(0, (at - 60_000) / 20_000)));
    expect(others).toEqual([]);
    expect(drift).toMatchObject({ kind: 'drift', open: false });
    if (drift?.kind !== 'drift') throw new Error('no drift');
    expect(drift.fromMm).toBeGreaterThan(59_000);
    expect(drift.fromMm).toBeLessThan(70_000);
    expect(Math.abs(drift.toMm - 80_000)).toBeLessThan(8000);
    expect(drift.beforeMm).toBeCloseTo(1.75, 2);
    expect(drift.afterMm).toBeCloseTo(1.78, 2);
  });

  it('is not a single stretch out of tolerance, nor blobs', () => {
    expect(trendsOf(even, (at) => (at > 60_000 && at < 60_900 ? 0.1 : 0))).toEqual([]);
    expect(trendsOf(even, (at) => (at % 500 < 10 ? 0.3 : 0))).toEqual([]);
  });

  const PITCH_MM = 50;
  /** Seeds of 330 m of strand, σ = 0.015 mm, on which a drift is found. */
  const seedsWithDrift = (count: number, strand: (seed: number) => Float64Array, addMm = (_atMm: number) => 0) =>
    Array.from({ length: count }, (_, i) => i + 1).filter((seed) => {
      const diameterMm = strand(seed).map((z, i) => 1.75 + 0.015 * z + addMm(i * PITCH_MM));
      const gaugeMm = diameterMm.map((_, i) => i * PITCH_MM);
      return trendsOf({ timeMs: gaugeMm.map((mm) => mm * 25), gaugeMm, diameterMm }).some(
        ({ kind }) => kind === 'drift',
      );
    });
  const wander = (correlationMm: number) => (seed: number) =>
    ar1(330_000 / PITCH_MM, Math.exp(-PITCH_MM / correlationMm), seed);

  it('is not found on steady strand, however long it wanders, alone or under fast noise', () => {
    const count = tries(100, 1 / 10);
    const underNoise = (seed: number) => {
      const slow = wander(30_000)(seed + 1000);
      return wander(100)(seed).map((z, i) => z + slow[i]! / 3);
    };
    // One in a hundred is expected at most, and one in fifty over 60 m.
    for (const strand of [...[200, 1000, 5000, 30_000].map(wander), underNoise])
      expect(seedsWithDrift(count, strand).length).toBeLessThanOrEqual(count / 25 + 1);
    expect(seedsWithDrift(count, wander(60_000)).length).toBeLessThanOrEqual(count / 20 + 1);
  });

  it('is found on correlated strand if the mean rises by several standard deviations', () => {
    const rise = (mm: number) => (atMm: number) => mm * Math.min(1, Math.max(0, (atMm - 150_000) / 50_000));
    const count = tries(20, 1 / 2);
    expect(seedsWithDrift(count, wander(1000), rise(0.1)).length).toBeGreaterThan(0.6 * count);
    for (const correlationMm of casesOf([10_000, 5000], 1))
      expect(seedsWithDrift(count, wander(correlationMm), rise(0.1)).length).toBeGreaterThan(0.25 * count);
  });

  it('is closed where the strand ends', () => {
    const trends = trendsOf(even, (at) => Math.max(0, (at - 120_000) / 1e6));
    expect(trends.map(({ kind, open }) => [kind, open])).toEqual([['drift', false]]);
    expect(trends[0]?.toMm).toBeGreaterThan(148_000);
  });

  it('is not found across a long gap in the record', () => {
    const gap = { ...even, gaugeMm: even.gaugeMm.map((mm) => (mm > 75_000 ? mm + 20_000 : mm)) };
    expect(trendsOf(gap, (at) => (at > 80_000 ? 0.03 : 0))).toEqual([]);
  });
});

describe('surging', () => {
  const causes = causesOf({ rollerCircumferenceMm: 157, screwTurnsPerMin: 24, gears: [], controlPeriodS: null });

  it('of a worn screw is found with its period and attributed to the screw', () => {
    const trends = trendsOf(simulated('worn-screw', 400));
    expect(trends.map(({ kind }) => kind)).toEqual(['surging']);
    const [surging] = trends;
    if (surging?.kind !== 'surging') throw new Error('no surging');
    expect(surging.periodS).toBeCloseTo(2.5, 1);
    expect(surging.amplitudeMm).toBeGreaterThan(0.02);
    expect(adviceOfTrend(surging, causes).hint).toContain('screw');
    expect(adviceOfTrend(surging, causes).sentence).toMatch(/^The diameter swung evenly by ±0\.\d{3} mm every 8\d mm/);
  });

  it('of an untrue roller is found with its circumference and attributed to the roller', () => {
    const trends = trendsOf(simulated('untrue-roller', 220));
    expect(trends.map(({ kind }) => kind)).toEqual(['surging']);
    const [surging] = trends;
    if (surging?.kind !== 'surging') throw new Error('no surging');
    expect(surging.periodMm).toBeGreaterThan(154);
    expect(surging.periodMm).toBeLessThan(160);
    expect(adviceOfTrend(surging, causes).hint).toContain('puller roller');
    expect(adviceOfTrend(surging, []).hint).toContain('Set the roller');
  });

  it('lasts from where it started to where it ended', () => {
    const strand = generateStrand({ ...USUAL, seed: 9, lengthMm: 60_000, noiseMm: 0.012 });
    const trends = trendsOf(strand, (at) =>
      at > 20_000 && at < 40_000 ? 0.025 * Math.sin((2 * Math.PI * at) / 120) : 0,
    );
    expect(trends.map(({ kind }) => kind)).toEqual(['surging']);
    expect(Math.abs((trends[0]?.fromMm ?? 0) - 20_000)).toBeLessThan(5200);
    expect(Math.abs((trends[0]?.toMm ?? 0) - 40_000)).toBeLessThan(5200);
  });

  it('is not found, nor drift, in a good run simulated with the usual surge, run-out and wander', () => {
    expect(trendsOf(simulated('steady', 1500))).toEqual([]);
  });
});

describe('trends', () => {
  it('do not depend on reading them in between, and are the same again', () => {
    const strand = simulated('untrue-roller', 220);
    const whole = trendsOf(strand);
    expect(trendsOf(strand)).toEqual(whole);
    expect(
      trendsOf(strand, undefined, (trend, i) => {
        if (i % 997 === 0) trend.advisories();
      }),
    ).toEqual(whole);
  });

  it('are open while they continue', () => {
    const strand = simulated('untrue-roller', 220);
    const trend = new StrandTrend(LIMITS);
    for (let i = 0; i < strand.timeMs.length; i++)
      trend.step(strand.timeMs[i] as number, strand.gaugeMm[i] as number, strand.diameterMm[i] as number);
    expect(trend.open().map(({ kind, open }) => [kind, open])).toEqual([['surging', true]]);
    expect(
      adviceOfTrend(
        trend.open()[0]!,
        causesOf({ rollerCircumferenceMm: 157, screwTurnsPerMin: null, gears: [], controlPeriodS: null }),
      ).sentence,
    ).toContain('swings evenly');
  });
});
