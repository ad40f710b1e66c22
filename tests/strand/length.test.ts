import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { LengthTracker } from '../../server/strand/length.ts';
import { tries } from '../long-check.ts';
import { reading } from './readings.ts';

const START = 1_700_000_000_000;
const PITCH_MS = 20;

/** Feeds `n` readings with these fields, from reading number `from` on. */
function feed(
  tracker: LengthTracker,
  from: number,
  n: number,
  fields: (i: number) => Parameters<typeof reading>[1],
): void {
  for (let i = from; i < from + n; i++) tracker.step(reading(START + i * PITCH_MS, fields(i)));
}

describe('length at the gauge', () => {
  it('follows the counter where there is one, whatever the speed', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 99 });
    feed(tracker, 0, 501, (i) => ({ v: 50, len: 7000 + i * 0.7 }));
    expect(tracker.gaugeMm).toBeCloseTo(350, 6);
    expect(tracker.speedMmPerS).toBe(50);
    expect(tracker.gapMm).toBe(0);
  });

  it('is the integral of the speed over time where no counter is sent (trapezoid rule, exact for a ramp)', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(tracker, 0, 501, (i) => ({ v: i * PITCH_MS * 0.001 * 10 }));
    // s = ½ a t²: ½ · 10 mm/s² · (10 s)²
    expect(tracker.gaugeMm).toBeCloseTo(500, 6);
  });

  it('is the set speed times time where neither is sent', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 30 });
    feed(tracker, 0, 101, () => ({}));
    expect(tracker.gaugeMm).toBeCloseTo(60, 6);
    expect(tracker.speedMmPerS).toBe(30);
  });

  it('takes no speed that no strand has: the set speed counts, or none', () => {
    for (const [setSpeedMmPerS, lengthMm] of [
      [30, 60],
      [0, 0],
    ] as const) {
      const tracker = new LengthTracker({ setSpeedMmPerS });
      feed(tracker, 0, 101, () => ({ v: 1980 }));
      expect(tracker.gaugeMm).toBeCloseTo(lengthMm, 6);
      expect(tracker.impossibleMmPerS).toBe(1980);
    }
    const counted = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(counted, 0, 101, (i) => ({ v: 1980, len: i * 0.7 }));
    expect(counted.gaugeMm).toBeCloseTo(70, 6);
    expect([counted.impossibleMmPerS, counted.contradiction]).toEqual([null, null]);
  });

  it('stays at 0, with an unknown speed, where nothing is known', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(tracker, 0, 101, () => ({}));
    expect(tracker.gaugeMm).toBe(0);
    expect(tracker.speedMmPerS).toBeNaN();
  });

  it('derives the speed from a counter of whole millimetres', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(tracker, 0, 501, (i) => ({ len: Math.floor(i * 0.7) }));
    expect(Math.abs(tracker.speedMmPerS - 35)).toBeLessThan(1.5);
  });

  it('continues when the counter wraps at 2^32', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(tracker, 0, 201, (i) => ({
      v: 35,
      len: (2 ** 32 - 70 + i * 0.7) % 2 ** 32,
    }));
    expect(tracker.gaugeMm).toBeCloseTo(140, 3);
  });

  it('finds the length of a gap in which the counter wraps', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(tracker, 0, 11, (i) => ({ v: 35, len: 2 ** 32 - 100 + i * 0.7 }));
    tracker.step(reading(START + 5200, { v: 35, len: 50 }));
    expect(tracker.gapMm).toBeCloseTo(143, 3);
  });

  it('bridges a counter reset with the speed', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(tracker, 0, 201, (i) => ({
      v: 35,
      len: i < 100 ? 5000 + i * 0.7 : (i - 100) * 0.7,
    }));
    expect(tracker.gaugeMm).toBeCloseTo(140, 3);
    expect(tracker.gapMm).toBe(0);
  });

  it('counts the strand that passed during a restart of the device as a gap', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(tracker, 0, 101, (i) => ({ v: 35, len: 5000 + i * 0.7 }));
    tracker.step(
      reading(START + 100 * PITCH_MS + 3000, {
        v: 35,
        len: 30,
        restarted: true,
      }),
    );
    expect(tracker.gaugeMm).toBeCloseTo(70 + 105, 3);
    expect(tracker.gapMm).toBeCloseTo(105, 3);
    expect(tracker.gapS).toBeCloseTo(3, 6);
    tracker.step(reading(START + 101 * PITCH_MS + 3000, { v: 35, len: 30.7 }));
    expect(tracker.gaugeMm).toBeCloseTo(175.7, 3);
  });

  it('takes the length of a gap from the counter, else from the speed', () => {
    const counted = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(counted, 0, 101, (i) => ({ v: 35, len: i * 0.7 }));
    counted.step(reading(START + 12_000, { v: 35, len: 300 }));
    expect(counted.gapMm).toBeCloseTo(230, 6);
    expect(counted.gaugeMm).toBeCloseTo(300, 6);

    const integrated = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(integrated, 0, 101, () => ({ v: 30 }));
    integrated.step(reading(START + 12_000, { v: 40 }));
    expect(integrated.gapMm).toBeCloseTo(350, 6);
  });

  it('counts lost lines as a gap from the first one on', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(tracker, 0, 101, (i) => ({ len: i * 0.7 }));
    expect(tracker.gapMm).toBe(0);
    tracker.step(reading(START + 102 * PITCH_MS, { len: 102 * 0.7, lost: 1 }));
    expect(tracker.gapMm).toBeCloseTo(1.4, 6);
    tracker.step(reading(START + 112 * PITCH_MS, { len: 112 * 0.7, lost: 9 }));
    expect(tracker.gapMm).toBeCloseTo(7, 6);
  });

  it('takes the pitch of a slow line for normal, and learns when a line becomes slower', () => {
    const slow = new LengthTracker({ setSpeedMmPerS: 35 });
    for (let i = 0; i < 20; i++) {
      slow.step(reading(START + i * 1000));
      expect(slow.gapMm).toBe(0);
    }
    const slower = new LengthTracker({ setSpeedMmPerS: 35 });
    feed(slower, 0, 100, () => ({}));
    for (let i = 0; i < 60; i++) slower.step(reading(START + 2000 + i * 1000));
    expect(slower.gapMm).toBe(0);
  });

  it('ignores a single garbled counter value, high or low', () => {
    for (const garbled of [2 ** 31, 90_000, 3, 5110]) {
      const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
      feed(tracker, 0, 201, (i) => ({
        v: 35,
        len: i === 100 ? garbled : 5000 + i * 0.7,
      }));
      expect(Math.abs(tracker.gaugeMm - 140)).toBeLessThan(1.5);
    }
  });

  it('waits for the counter where it runs back a little, and bridges where it is missing', () => {
    const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
    feed(tracker, 0, 201, (i) => ({
      v: 35,
      len: i >= 100 && i < 110 ? 5069 : i > 150 && i < 170 ? Number.NaN : 5000 + i * 0.7,
    }));
    expect(tracker.gaugeMm).toBeCloseTo(140, 6);
  });

  it('continues after a restart of the service, with the pause as a gap', () => {
    const tracker = new LengthTracker(
      { setSpeedMmPerS: 0 },
      {
        timeMs: START,
        gaugeMm: 12_345,
        lengthCounterMm: 800,
        speedMmPerS: 35,
      },
    );
    tracker.step(reading(START + 20_000, { v: 35, len: 1500 }));
    expect(tracker.gaugeMm).toBeCloseTo(13_045, 6);
    expect(tracker.gapMm).toBeCloseTo(700, 6);
  });

  it('never falls, whatever is sent', () => {
    const field = fc.oneof(fc.double({ min: -1e6, max: 2 ** 32, noNaN: true }), fc.constant(Number.NaN));
    fc.assert(
      fc.property(
        fc.array(
          fc.record({
            dt: fc.integer({ min: 1, max: 20_000 }),
            v: field,
            len: field,
            lost: fc.nat(10),
            restarted: fc.boolean(),
          }),
          { maxLength: 60 },
        ),
        (steps) => {
          const tracker = new LengthTracker({ setSpeedMmPerS: 20 });
          let time = START;
          let before = 0;
          for (const { dt, ...fields } of steps) {
            time += dt;
            tracker.step(reading(time, fields));
            expect(tracker.gaugeMm).toBeGreaterThanOrEqual(before);
            expect(tracker.gapMm).toBeLessThanOrEqual(tracker.gaugeMm - before);
            before = tracker.gaugeMm;
          }
        },
      ),
      { seed: 7, numRuns: tries(300) },
    );
  });
});
