import { describe, expect, it } from 'vitest';
import type { DriftAdvisory } from '../../server/strand/trend/advisory.ts';
import { CellMeans, type MeanCell } from '../../server/strand/trend/cell-means.ts';
import { DriftTracker } from '../../server/strand/trend/drift-tracker.ts';
import { CellTrend } from '../../server/strand/trend/strand-trend.ts';
import { SurgeTracker } from '../../server/strand/trend/surge-tracker.ts';
import { ar1, normals } from './analysis/noise.ts';

const TOLERANCE_MM = 0.05;

describe('the means of cells', () => {
  /** All cells of readings at these places, with 0.5 mm as the least diameter of strand. */
  function cellsOf(places: readonly number[], diameterAt: (mm: number, i: number) => number = () => 1.75): MeanCell[] {
    const means = new CellMeans({ nominalMm: 1.75, strandPresentMm: 0.5 });
    return places.flatMap((mm, i) => means.step(i * 100, mm, diameterAt(mm, i)) ?? []);
  }
  const every = (mm: number, count: number, fromMm = 0) => Array.from({ length: count }, (_, i) => fromMm + i * mm);

  it('are 10 mm long, or one and a half readings, learnt from the first 32', () => {
    const [first, second] = cellsOf(every(2, 60));
    expect(first).toMatchObject({ lengthMm: 10, fromMm: 64, fromTimeMs: 3200, nextMm: 74, nextTimeMs: 3700 });
    expect(second).toMatchObject({ fromMm: 74, nextMm: 84, coveredMm: 10 });
    expect(cellsOf(every(20, 60))[0]).toMatchObject({ lengthMm: 30, fromMm: 640 });
  });

  it('weigh each reading by the strand since the one before, up to a cell', () => {
    // 4 mm at 1.70 and 1 mm at 1.80 in turn.
    const places = Array.from({ length: 80 }, (_, i) => 5 * Math.floor(i / 2) + (i % 2 === 0 ? 0 : 4));
    const [, cell] = cellsOf(places, (_, i) => (i % 2 === 0 ? 1.8 : 1.7));
    expect(cell!.meanMm).toBeCloseTo(1.72, 9);
    // A reading 24 mm on stands for a whole cell, in the one that starts there.
    const cells = cellsOf([...every(2, 38), 98, ...every(2, 9, 100)], (mm) => (mm === 98 ? 1.85 : 1.75));
    expect(cells.map(({ fromMm, nextMm }) => [fromMm, nextMm])).toEqual([
      [64, 74],
      [74, 94],
      [94, 104],
      [104, 114],
    ]);
    expect(cells[2]).toMatchObject({ coveredMm: 14, meanMm: expect.closeTo((10 * 1.85 + 4 * 1.75) / 14, 9) });
  });

  it('have only the reading at their end where one step passes them', () => {
    expect(cellsOf([...every(2, 33), 90], (mm) => (mm === 90 ? 1.8 : 1.7))[0]).toMatchObject({
      meanMm: 1.8,
      coveredMm: 0,
      nextMm: 84,
    });
  });

  it('leave out what is no strand, and clip blobs', () => {
    // Half of the readings count, so 32 of them are 4 mm apart.
    const cells = cellsOf(every(2, 80), (_, i) => [0.49, Number.NaN, 0.5, 2.9][i % 4]!);
    expect(cells[0]).toMatchObject({ fromMm: 132, lengthMm: 10 });
    const at = (diameterMm: number) => cellsOf(every(2, 60), () => diameterMm).at(-1)?.meanMm;
    expect([at(0.5), at(2.9)]).toEqual([expect.closeTo(1.5, 9), expect.closeTo(2, 9)]);
  });

  it('are not compared across more than 5 m without readings, or a restart', () => {
    const firsts = (gapMm: number) =>
      cellsOf([...every(2, 60), ...every(2, 60, 118 + gapMm)]).flatMap(({ isFirst, fromMm }) =>
        isFirst ? fromMm : [],
      );
    expect(firsts(5000)).toEqual([64]);
    expect(firsts(5001)).toEqual([64, 118 + 5001 + 64]);
    const means = new CellMeans({ nominalMm: 1.75, strandPresentMm: 0.5 });
    const firstIn = (fromMm: number) => every(2, 60, fromMm).flatMap((mm) => means.step(mm, mm, 1.75) ?? [])[0];
    expect(firstIn(0)).toMatchObject({ fromMm: 64, isFirst: true });
    means.restart();
    expect(firstIn(200)).toMatchObject({ fromMm: 264, isFirst: true });
  });
});

describe('the drift of metre means', () => {
  const metre = (i: number, meanMm: number) => ({
    fromMm: 1000 * i,
    toMm: 1000 * (i + 1),
    fromTimeMs: 30_000 * i,
    toTimeMs: 30_000 * (i + 1),
    meanMm,
  });
  function track(means: ArrayLike<number>, toleranceMm = TOLERANCE_MM): DriftTracker {
    const tracker = new DriftTracker(toleranceMm);
    for (let i = 0; i < means.length; i++) tracker.step(metre(i, means[i]!));
    return tracker;
  }
  function driftsOf(means: ArrayLike<number>, toleranceMm?: number): readonly DriftAdvisory[] {
    const tracker = track(means, toleranceMm);
    tracker.interrupt();
    return tracker.closed;
  }
  /** Steady metres with this spread and a step. */
  const stepped = (noise: ArrayLike<number>, sigmaMm: number, atMetre: number, stepMm: number) =>
    Array.from(noise, (z, i) => 1.75 + sigmaMm * z + (i < atMetre ? 0 : stepMm));
  const level = (count: number) => new Float64Array(count);

  it('is found ten metres after the five that it takes to show, from where the mean left its level', () => {
    // The level is the mean of the first twenty metres.
    const step = (metres: number) => stepped(level(60 + metres), 0, 60, 0.03).map((mm, i) => mm - (i < 20 ? 0 : 0.001));
    expect(track(step(13)).open()).toBeNull();
    const tracker = track(step(14));
    expect(tracker.open()).toEqual({
      kind: 'drift',
      fromMm: 60_000,
      toMm: 74_000,
      fromTimeMs: 1_800_000,
      toTimeMs: 2_220_000,
      open: true,
      beforeMm: expect.closeTo(1.75, 9),
      afterMm: expect.closeTo(1.779, 9),
    });
    expect(tracker.closed).toEqual([]);
    tracker.interrupt();
    expect(tracker.open()).toBeNull();
    expect(tracker.closed).toMatchObject([{ fromMm: 60_000, toMm: 74_000, open: false }]);
    // A thinner strand drifts as well.
    expect(driftsOf(stepped(level(80), 0, 60, -0.03))).toMatchObject([{ fromMm: 60_000 }]);
  });

  it.each([
    [0.0125, 8],
    [0.014, 6],
  ])('takes longer to show the smaller it is: %f mm, %i metres', (stepMm, metres) => {
    // Sums of δ − K exceed h after h/(δ − K) values (NIST/SEMATECH e-Handbook 6.3.2.3); here K = 0.0075 mm, h = 5 K.
    const found = (more: number) => track(stepped(level(60 + metres + 9 + more), 0, 60, stepMm)).open() !== null;
    expect([found(-1), found(0)]).toEqual([false, true]);
  });

  it('ends where two pieces of ten metres agree, and is then compared with the new level', () => {
    const ramp = Array.from({ length: 200 }, (_, i) => 1.75 + 0.002 * Math.min(30, Math.max(0, i - 59)));
    const [drift, ...others] = driftsOf(ramp);
    expect(others).toEqual([]);
    // It left its level three metres before it was 0.15 of the tolerance away.
    expect(drift!.fromMm).toBe(60_000);
    // Pieces that differ by 0.005 mm agree, so the ramp may seem to end a few metres early.
    expect(drift!.toMm).toBeGreaterThanOrEqual(82_000);
    expect(drift!.toMm).toBeLessThanOrEqual(89_000);
    expect(drift!.toTimeMs).toBe(30 * drift!.toMm);
    expect(drift).toMatchObject({ beforeMm: expect.closeTo(1.75, 9), open: false });
    expect(Math.abs(drift!.afterMm - 1.81)).toBeLessThan(0.004);
    // A fall is the mirror image of a rise.
    expect(driftsOf(ramp.map((mm) => 3.5 - mm))).toMatchObject([{ fromMm: drift!.fromMm, toMm: drift!.toMm }]);
    // After a step at once, to the end of the first twenty metres of which one at most was before it.
    expect(driftsOf(stepped(level(120), 0, 60, 0.03))).toMatchObject([{ fromMm: 60_000, toMm: 79_000 }]);
    // By twice as much, a single metre before it is too many.
    expect(driftsOf(stepped(level(120), 0, 60, 0.06))).toMatchObject([{ fromMm: 60_000, toMm: 80_000 }]);
    // Back again: a second drift, from the level after the first.
    const back = driftsOf([...ramp, ...stepped(level(60), 0, 0, 0)]);
    expect(back).toHaveLength(2);
    expect(back[1]).toMatchObject({ fromMm: 200_000, beforeMm: drift!.afterMm });
  });

  it('is no change below 0.15 of the tolerance, however long it lasts', () => {
    const noise = normals(200, 2);
    expect(driftsOf(stepped(noise, 0.001, 100, 0.006))).toEqual([]);
    expect(driftsOf(stepped(noise, 0.001, 100, 0.015))).toHaveLength(1);
    expect(driftsOf(stepped(noise, 0.001, 100, 0.015), 0.1)).toEqual([]);
    const tracker = new DriftTracker(TOLERANCE_MM);
    tracker.setTolerance(0.1);
    for (const [i, mm] of stepped(noise, 0.001, 100, 0.015).entries()) tracker.step(metre(i, mm));
    expect(tracker.open()).toBeNull();
  });

  it.each([1, 2, 3])('is measured by the spread of the metres where that is large: series %i', (seed) => {
    const noise = normals(150, seed);
    const [drift, ...others] = driftsOf(stepped(noise, 0.02, 100, 0.06), 0.01);
    expect(others).toEqual([]);
    expect(Math.abs(drift!.fromMm - 100_000)).toBeLessThanOrEqual(2000);
    // It ends once the means of ten metres differ by less than twice their scatter.
    expect(drift!.toMm).toBeLessThanOrEqual(120_000);
    expect(driftsOf(stepped(noise, 0.02, 100, 0.006), 0.01)).toEqual([]);
  });

  it('lasts as long as ten metres differ by more than noise from the ten before', () => {
    // Metres of 0.02 mm of noise rise by 0.06 mm each ten metres.
    const rising = Array.from(normals(200, 1), (z, i) => 1.75 + 0.02 * z + 0.006 * Math.min(50, Math.max(0, i - 99)));
    const drifts = driftsOf(rising, 0.01);
    expect(drifts).toHaveLength(1);
    expect(drifts[0]!.toMm).toBeGreaterThan(135_000);
    expect(drifts[0]!.toMm).toBeLessThan(165_000);
  });

  it('is looked for with the correlation of neighbours', () => {
    const noise = ar1(200, 0.6, 3);
    const drifts = driftsOf(stepped(noise, 0.02, 100, 0.1), 0.01);
    expect(drifts).toHaveLength(1);
    expect(drifts[0]!.toMm).toBeLessThanOrEqual(120_000);
    expect(driftsOf(stepped(noise, 0.02, 100, 0.02), 0.01)).toEqual([]);
  });

  it('forgets what came before an interruption', () => {
    const tracker = track(stepped(level(60), 0, 60, 0));
    tracker.interrupt();
    for (let i = 0; i < 60; i++) tracker.step(metre(60 + i, 1.8));
    expect(tracker.open()).toBeNull();
    expect(tracker.closed).toEqual([]);
    // The level is the mean of the first twenty metres.
    for (let i = 0; i < 14; i++) tracker.step(metre(120 + i, 1.83));
    expect(tracker.open()).toMatchObject({ fromMm: 120_000, beforeMm: expect.closeTo(1.8, 9) });
  });
});

describe('the surging of cell means', () => {
  const CELL_MM = 10;
  function track(meanAt: (mm: number, i: number) => number, count: number, cellMs = 250): SurgeTracker {
    const noise = normals(count, 4);
    const tracker = new SurgeTracker(TOLERANCE_MM);
    for (let i = 0; i < count; i++)
      tracker.step(CELL_MM * i, cellMs * i, 1.75 + 0.0005 * noise[i]! + meanAt(CELL_MM * i, i), CELL_MM);
    return tracker;
  }
  function surgesOf(meanAt: (mm: number, i: number) => number, count = 1792, cellMs?: number) {
    const tracker = track(meanAt, count, cellMs);
    tracker.interrupt();
    return tracker.closed;
  }
  const wave = (amplitudeMm: number, periodMm: number) => (mm: number) =>
    amplitudeMm * Math.sin((2 * Math.PI * mm) / periodMm);

  it('is found with its amplitude and period once two windows show it', () => {
    const closed = surgesOf(wave(0.02, 97));
    expect(closed).toEqual([
      {
        kind: 'surging',
        fromMm: 0,
        toMm: 17_920,
        fromTimeMs: 0,
        toTimeMs: 1791 * 250,
        open: false,
        amplitudeMm: expect.closeTo(0.02, 3),
        periodMm: expect.closeTo(97, 0),
        periodS: expect.closeTo(97 / 40, 1),
      },
    ]);
    expect(track(wave(0.02, 97), 767).open()).toBeNull();
    expect(track(wave(0.02, 97), 768).open()).toMatchObject({ fromMm: 0, toMm: 7680, open: true });
  });

  it('matters from a quarter of the tolerance on', () => {
    // Whole periods in a window: the frequencies on either side hold a sixth of the power each.
    expect(surgesOf(wave(0.012, 5120 / 52), 1024)).toEqual([]);
    expect(surgesOf(wave(0.013, 5120 / 52), 1024)).toHaveLength(1);
    // A longer wander, of which a window holds two waves, makes a swing no higher.
    const wander = (mm: number) => wave(0.05, 2560)(mm) + wave(0.008, 97)(mm);
    expect(surgesOf(wander, 1024)).toEqual([]);
    const tracker = new SurgeTracker(1);
    tracker.setTolerance(0.05);
    for (let i = 0; i < 1024; i++) tracker.step(10 * i, i, 1.75 + wave(0.02, 97)(10 * i), CELL_MM);
    expect(tracker.open()).not.toBeNull();
  });

  it('has no period in time where the strand stood still', () => {
    expect(surgesOf(wave(0.02, 97), 1024, 0)[0]).toMatchObject({ periodS: null });
  });

  it('is that of another wave where the period changes', () => {
    const changed = surgesOf((mm) => wave(0.02, mm < 10_240 ? 97 : 61)(mm));
    expect(changed.map(({ periodMm }) => Math.round(periodMm))).toEqual([97, 61]);
    // A few percent are the same wave at another speed; of a long wave the period is less certain.
    expect(surgesOf((mm) => wave(0.02, mm < 10_240 ? 97 : 102)(mm))).toHaveLength(1);
    const slower = (mm: number) => wave(0.02, 640)(Math.min(mm, 10_240) + Math.max(0, mm - 10_240) / 1.2);
    expect(surgesOf(slower)).toMatchObject([{ fromMm: 0, toMm: 17_920 }]);
    expect(surgesOf((mm) => wave(0.02, mm < 10_240 ? 97 : 110)(mm))).toHaveLength(2);
  });

  it('has the largest amplitude that it reached', () => {
    const growing = (from: number, to: number) => (mm: number) =>
      wave(0.01 * (from + ((to - from) * Math.floor(mm / 5120)) / 3), 97)(mm);
    for (const [from, to] of [
      [1.5, 3],
      [3, 1.5],
    ] as const)
      expect(surgesOf(growing(from, to), 2048)[0]!.amplitudeMm).toBeCloseTo(0.03, 3);
  });

  it('is found on a slope, and not where a fifth or more was not measured', () => {
    expect(surgesOf((mm) => mm * 1e-4 + wave(0.014, 1024)(mm))).toMatchObject([
      { amplitudeMm: expect.closeTo(0.014, 3), periodMm: expect.closeTo(1024, -1) },
    ]);
    const without = (cells: number) => (mm: number, i: number) => (i % 64 < cells ? Number.NaN : wave(0.02, 97)(mm));
    expect(surgesOf(without(12))).toHaveLength(1);
    expect(surgesOf(without(13))).toEqual([]);
  });
});

describe('the trend of cells', () => {
  const cell = (i: number, meanMm: number, more: Partial<MeanCell> = {}): MeanCell => ({
    lengthMm: 10,
    fromMm: 10 * i,
    fromTimeMs: 250 * i,
    nextMm: 10 * (i + 1),
    nextTimeMs: 250 * (i + 1),
    meanMm,
    coveredMm: 10,
    isFirst: false,
    ...more,
  });
  const wave = (i: number) => 0.02 * Math.sin((2 * Math.PI * i) / 9.7);

  it('lists surging and drift by where they start, with those that continue', () => {
    const trend = new CellTrend(TOLERANCE_MM);
    for (let i = 0; i < 8500; i++) trend.step(cell(i, 1.75 + (i < 2000 ? wave(i) : 0) + (i < 7000 ? 0 : 0.03)));
    expect(trend.open().map(({ kind }) => kind)).toEqual(['drift']);
    expect(trend.advisories().map(({ kind, open }) => [kind, open])).toEqual([
      ['surging', false],
      ['drift', true],
    ]);
    expect(trend.advisories()[1]).toMatchObject({
      fromMm: 70_000,
      toMm: 85_000,
      beforeMm: expect.closeTo(1.75, 3),
      afterMm: expect.closeTo(1.78, 9),
    });
    trend.interrupt();
    expect(trend.open()).toEqual([]);
    expect(trend.advisories().map(({ kind, open }) => [kind, open])).toEqual([
      ['surging', false],
      ['drift', false],
    ]);
  });

  it('compares with the tolerance in force', () => {
    const kindsWith = (toleranceMm: number) => {
      const trend = new CellTrend(0.05);
      trend.step(cell(0, 1.75));
      trend.setTolerance(toleranceMm);
      for (let i = 1; i < 8500; i++) trend.step(cell(i, 1.75 + (i < 2000 ? wave(i) : 0) + (i < 7000 ? 0 : 0.03)));
      return trend.advisories().map(({ kind }) => kind);
    };
    expect(kindsWith(0.05)).toEqual(['surging', 'drift']);
    expect(kindsWith(0.3)).toEqual([]);
  });

  it('starts again at a cell that must not be compared with earlier ones', () => {
    const trend = new CellTrend(TOLERANCE_MM);
    for (let i = 0; i < 8500; i++) trend.step(cell(i, i < 7000 ? 1.75 : 1.78, { isFirst: i === 7000 }));
    expect(trend.advisories()).toEqual([]);
  });

  it('counts cells that were jumped over as not measured', () => {
    /** Of every 20 cells, so many are jumped over, which a wave does not show. */
    const surges = (jumped: number) => {
      const trend = new CellTrend(TOLERANCE_MM);
      for (let i = 0; i < 1200; i++) {
        const next = i % 20 === 0 ? i + 1 + jumped : i + 1;
        trend.step(cell(i, 1.75 + wave(i), { nextMm: 10 * next, nextTimeMs: 250 * next }));
        i = next - 1;
      }
      return trend.advisories();
    };
    expect(surges(3)).toMatchObject([{ kind: 'surging', periodMm: expect.closeTo(97, 0) }]);
    expect(surges(5)).toEqual([]);
  });

  it('takes the mean of a metre of which at least half was measured', () => {
    const drifts = (coveredMm: number) => {
      const trend = new CellTrend(TOLERANCE_MM);
      for (let i = 0; i < 8500; i++) trend.step(cell(i, i < 7000 ? 1.75 : 1.78, { coveredMm }));
      return trend.advisories().length;
    };
    expect([drifts(5), drifts(4.9)]).toEqual([1, 0]);
  });
});
