import { describe, expect, it } from 'vitest';
import { GaugeWatch, samplePitchMm } from '../../server/strand/gauge-watch.ts';
import { normal, seeded } from '../chance.ts';

const OPTIONS = { strandPresentMm: 0.5, hotendLimitMm: 1.9 };

/** Runs the gauge at 50 readings a second; returns when it was first frozen and first saturated, s. */
function watch(watcher: GaugeWatch, seconds: number, diameter: (i: number) => number, speed = 35, fromS = 0) {
  const first = { frozenS: Number.NaN, saturatedS: Number.NaN };
  for (let i = 0; i < seconds * 50; i++) {
    const s = fromS + i / 50;
    watcher.step(s * 1000, s * speed, diameter(i), speed);
    if (watcher.frozen && Number.isNaN(first.frozenS)) first.frozenS = i / 50;
    if (watcher.saturated && Number.isNaN(first.saturatedS)) first.saturatedS = i / 50;
  }
  return first;
}

const gauss = normal(seeded(1));
const lively = () => Math.round((1.75 + 0.01 * gauss()) * 1000) / 1000;

describe('a frozen gauge', () => {
  it('is recognised when a varying reading repeats exactly for ten seconds, and ends with the next change', () => {
    const watcher = new GaugeWatch(OPTIONS);
    expect(watch(watcher, 30, lively).frozenS).toBeNaN();
    const { frozenS } = watch(watcher, 20, () => 1.752, 35, 30);
    expect(frozenS).toBeGreaterThanOrEqual(9.9);
    expect(frozenS).toBeLessThan(10.2);
    watcher.step(50_000, 1750, 1.751, 35);
    expect(watcher.frozen).toBe(false);
  });

  it('is not reported while the strand stands still or is missing', () => {
    const standing = new GaugeWatch(OPTIONS);
    watch(standing, 30, lively);
    expect(watch(standing, 300, () => 1.752, 0, 30).frozenS).toBeNaN();
    const empty = new GaugeWatch(OPTIONS);
    watch(empty, 30, lively);
    expect(watch(empty, 300, () => 0, 35, 30).frozenS).toBeNaN();
  });

  it('is not reported for a coarse gauge that often repeats itself for seconds', () => {
    const watcher = new GaugeWatch(OPTIONS);
    const coarse = (i: number) => [1.75, 1.76, 1.77][Math.floor(i / 200) % 3]!;
    expect(watch(watcher, 200, coarse).frozenS).toBeNaN();
    expect(watch(watcher, 60, () => 1.75, 35, 200).frozenS).toBeCloseTo(20, 0);
  });

  it('is not reported for a coarse gauge that flickers at the edge of a step, then stands within it', () => {
    const watcher = new GaugeWatch(OPTIONS);
    expect(watch(watcher, 10, (i) => (i % 3 === 0 ? 1.7272 : 1.7526)).frozenS).toBeNaN();
    expect(watch(watcher, 90, () => 1.7526, 35, 10).frozenS).toBeCloseTo(60, 0);
  });

  it('stays frozen when the limits change, and is checked against the new ones', () => {
    const watcher = new GaugeWatch(OPTIONS);
    watch(watcher, 30, lively);
    watch(watcher, 20, () => 1.752, 35, 30);
    const since = watcher.sameSinceTimeMs;
    watcher.setLimits({ strandPresentMm: 0.6, hotendLimitMm: 1.85 });
    watcher.step(50_000, 1750, 1.752, 35);
    expect([watcher.frozen, watcher.sameSinceTimeMs]).toEqual([true, since]);
    expect(watcher.sameForS).toBeCloseTo(20, 1);
    watcher.setLimits({ strandPresentMm: 1.76, hotendLimitMm: 1.85 });
    watcher.step(50_020, 1750.7, 1.752, 35);
    expect(watcher.frozen).toBe(false);
  });

  it('is recognised later where the gauge has never varied, or the speed is unknown', () => {
    const silent = new GaugeWatch(OPTIONS);
    expect(watch(silent, 90, () => 1.75).frozenS).toBeCloseTo(60, 0);
    const unknown = new GaugeWatch(OPTIONS);
    watch(unknown, 30, lively);
    const { frozenS } = watch(unknown, 60, () => 1.75, Number.NaN, 30);
    expect(frozenS).toBeCloseTo(30, 0);
  });
});

describe('a frozen gauge, exactly', () => {
  /** Readings each second: values that vary, then the same one so often. */
  function seen(vary: readonly number[], same: number, times: number, speed: number | ((i: number) => number) = 35) {
    const watcher = new GaugeWatch(OPTIONS);
    for (const [i, mm] of [...vary, ...Array.from({ length: times }, () => same)].entries())
      watcher.step(1000 * i, 35 * i, mm, typeof speed === 'number' ? speed : speed(i));
    return watcher;
  }
  const vary = (count: number) => Array.from({ length: count }, (_, i) => 1.7 + 0.001 * i);

  it('is one after ten seconds if the reading has taken twenty values, else after sixty', () => {
    expect([10, 11].map((times) => seen(vary(19), 1.9, times).frozen)).toEqual([false, true]);
    expect([60, 61].map((times) => seen(vary(18), 1.9, times).frozen)).toEqual([false, true]);
    // Three times as long at unknown speed, and never at rest.
    expect([30, 31].map((times) => seen(vary(20), 1.9, times, Number.NaN).frozen)).toEqual([false, true]);
    expect([0.3, 0.31].map((speed) => seen(vary(20), 1.9, 11, speed).frozen)).toEqual([false, true]);
    expect(new GaugeWatch(OPTIONS).frozen).toBe(false);
  });

  it('is one after five times the longest repetition so far', () => {
    // Three seconds the same, then two.
    const repeating = [...vary(20), 1.8, 1.8, 1.8, 1.8, 1.81, 1.81, 1.81];
    expect([15, 16].map((times) => seen(repeating, 1.9, times).frozen)).toEqual([false, true]);
    // What was frozen is no repetition.
    const frozen = [...vary(20), ...Array.from({ length: 12 }, () => 1.8)];
    expect([10, 11].map((times) => seen(frozen, 1.9, times).frozen)).toEqual([false, true]);
  });

  it('is not told by values that are missing, and counts two seconds at most for a pause', () => {
    const watcher = seen(vary(20), 1.9, 6);
    watcher.step(26_000, 910, Number.NaN, 35);
    expect([watcher.sameForS, watcher.sameSinceMm, watcher.sameSinceTimeMs]).toEqual([5, 700, 20_000]);
    watcher.step(60_000, 2100, 1.9, 35);
    expect(watcher.sameForS).toBe(7);
  });
});

describe('a saturated gauge', () => {
  it('is recognised by a flat top above the hotend limit', () => {
    const watcher = new GaugeWatch(OPTIONS);
    watch(watcher, 10, lively);
    const clipped = watch(watcher, 0.2, () => 2.2, 35, 10);
    expect(clipped.saturatedS).toBeCloseTo(0.06, 6);
    const fine = new GaugeWatch(OPTIONS);
    watch(fine, 10, lively);
    expect(watch(fine, 0.4, (i) => 1.75 + 0.3 * Math.sin(i / 5), 35, 10).saturatedS).toBeNaN();
  });
});

describe('the end of a gauge’s range below the limit', () => {
  /** Readings in micrometres. */
  const blindFromMm = (highest: readonly number[]) => {
    const watcher = new GaugeWatch(OPTIONS);
    const usual = Array.from({ length: 300 }, (_, i) => 1730 + Math.abs((i % 28) - 14));
    const sent = [...usual, ...highest.flatMap((um) => [um, 1740])];
    for (const [i, um] of sent.entries()) watcher.step(20 * i, 0.7 * i, um / 1000, 35);
    return watcher.blindFromMm;
  };

  it('is not made up where six readings of seven near the highest are equal, as one in 150 times by chance', () => {
    // Three neighbouring values at most as likely as the one below: 7 · 2/3 · (1/3)^6 = 1/156.
    expect(blindFromMm([1756, 1755, 1756, 1756, 1756, 1756, 1756])).toBeNaN();
    expect(blindFromMm(Array.from({ length: 9 }, () => 1756))).toBeNaN();
  });

  it('is known once ten are equal and none is just below', () => {
    expect(blindFromMm(Array.from({ length: 10 }, () => 1756))).toBe(1.756);
  });

  /** So many readings at the end of the range of a gauge that sees blobs up to the limit, or not. */
  const atTheEnd = (um: number, limits: typeof OPTIONS, times = 10) => {
    const watcher = new GaugeWatch(limits);
    const usual = Array.from({ length: 300 }, (_, i) => um - 40 + Math.abs((i % 28) - 14));
    const sent = [...usual, ...Array.from({ length: times }, () => [um, um - 20]).flat(), um, um, um, um];
    for (const [i, one] of sent.entries()) watcher.step(20 * i, 0.7 * i, one / 1000, 35);
    return watcher;
  };

  it('makes a gauge blind up to the hotend limit, and not below the diameter of strand', () => {
    const limits = (strandPresentMm: number, hotendLimitMm: number) => ({ strandPresentMm, hotendLimitMm });
    const blind = (one: typeof OPTIONS) => atTheEnd(1756, one).blindFromMm;
    expect([1.755, 1.756, 1.757].map((mm) => blind(limits(0.5, mm)))).toEqual([Number.NaN, 1.756, 1.756]);
    expect([1.755, 1.756].map((mm) => blind(limits(mm, 1.9)))).toEqual([1.756, Number.NaN]);
    const { blindSinceMm, blindSinceTimeMs } = atTheEnd(1756, OPTIONS);
    expect([blindSinceMm, blindSinceTimeMs]).toEqual([0.7 * 300, 20 * 300]);
  });

  it('says nothing about how thick strand is that reads as much, if it may be beyond the limit', () => {
    const beyond = (strandPresentMm: number, hotendLimitMm: number) =>
      atTheEnd(1756, { strandPresentMm, hotendLimitMm }).mayBeBeyond;
    expect([1.755, 1.756].map((mm) => beyond(0.5, mm))).toEqual([false, true]);
    expect([1.755, 1.756].map((mm) => beyond(mm, 1.9))).toEqual([true, false]);
    const watcher = atTheEnd(1756, OPTIONS);
    expect([watcher.saturated, watcher.mayBeBeyond]).toEqual([true, true]);
    watcher.step(60_000, 700, 1.74, 35);
    expect([watcher.saturated, watcher.mayBeBeyond]).toEqual([false, false]);
  });

  it('is not one that has frozen', () => {
    const watcher = atTheEnd(1756, OPTIONS);
    for (let i = 0; i < 10; i++) watcher.step(20_000 + 1000 * i, 700 + 35 * i, 1.756, 35);
    expect([watcher.frozen, watcher.saturated, watcher.mayBeBeyond]).toEqual([true, false, false]);
  });
});

describe('the shortest stretch that a gauge sees', () => {
  it('is one sample pitch: speed over rate', () => {
    expect(samplePitchMm(90, 50)).toBeCloseTo(1.8, 12);
    expect(samplePitchMm(35, 0)).toBeNaN();
    expect(samplePitchMm(Number.NaN, 50)).toBeNaN();
  });
});
