import { describe, expect, it } from 'vitest';
import { adviceOfBlindness, adviceOfGauge } from '../../server/strand/advice.ts';
import { blindness } from '../../server/strand/blindness.ts';

const LIMITS = { nominalMm: 1.75, hotendLimitMm: 1.9 };
const POINT = { apertureMm: 0, averagingS: 0 };

describe('the shortest blob that is surely seen', () => {
  it('is as long as the sample pitch where the gauge measures a point', () => {
    expect(blindness(0.7, 35, POINT, LIMITS)).toEqual({
      pitchMm: 0.7,
      averagedMm: 0,
      samplePitchMm: 0.7,
      tooBlind: false,
    });
    expect(blindness(2.5, 50, POINT, LIMITS)?.tooBlind).toBe(true);
  });

  it('grows with what a reading averages, as calculated by hand', () => {
    // f = 0.15 / 0.18 = 0.8333; a = 1 + 50 · 0.02 = 2 mm; p = 1 mm: max(1.667, 1 + 0.6667 · 2) = 2.333 mm.
    const found = blindness(1, 50, { apertureMm: 1, averagingS: 0.02 }, LIMITS);
    expect(found?.averagedMm).toBeCloseTo(2, 12);
    expect(found?.samplePitchMm).toBeCloseTo(7 / 3, 12);
    expect(found?.tooBlind).toBe(true);
  });

  it('holds in the worst phase of a flat blob', () => {
    for (const [pitch, averaged] of [
      [1, 0],
      [1, 0.5],
      [1, 2],
      [0.3, 3],
      [4, 1],
    ] as const) {
      const { samplePitchMm } = blindness(pitch, 0, { apertureMm: averaged, averagingS: 0 }, LIMITS)!;
      expect(leastShown(samplePitchMm + 1e-6, pitch, averaged)).toBeGreaterThanOrEqual(0.15 - 1e-6);
      expect(leastShown(samplePitchMm * 0.97, pitch, averaged)).toBeLessThan(0.15);
    }

    /** Highest reading of a flat blob 0.18 mm high, at the worst phase. */
    function leastShown(lengthMm: number, pitch: number, averaged: number): number {
      let least = Number.POSITIVE_INFINITY;
      for (let phase = 0; phase < 1; phase += 0.01) {
        let most = 0;
        for (let k = -40; k <= 40; k++) {
          const middle = (k + phase) * pitch;
          const from = Math.max(-lengthMm / 2, middle - averaged / 2);
          const to = Math.min(lengthMm / 2, middle + averaged / 2);
          const share = averaged > 0 ? Math.max(0, to - from) / averaged : Math.abs(middle) <= lengthMm / 2 ? 1 : 0;
          most = Math.max(most, 0.18 * share);
        }
        least = Math.min(least, most);
      }
      return least;
    }
  });

  it('is null where the pitch is not known', () => {
    expect(blindness(Number.NaN, 35, POINT, LIMITS)).toBeNull();
    expect(blindness(0, 0, POINT, LIMITS)).toBeNull();
  });

  it('leads to advice only where a blob can hide', () => {
    expect(adviceOfBlindness(null)).toBeNull();
    expect(adviceOfBlindness(blindness(0.7, 35, POINT, LIMITS))).toBeNull();
    const advice = adviceOfBlindness(blindness(2.5, 50, { apertureMm: 1, averagingS: 0 }, LIMITS));
    expect(advice?.sentence).toBe(
      'Blobs under 3.2 mm may pass unseen: readings lie 2.5 mm apart and each averages 1.0 mm.',
    );
  });
});

it('describes a saturated gauge in the present tense now, and with its length for a past stretch', () => {
  expect(adviceOfGauge('gaugeSaturated', null)).toMatchObject({ open: true, fromMm: null });
  expect(adviceOfGauge('gaugeSaturated', { fromMm: 1000, toMm: 3500 }).sentence).toBe(
    'The gauge was at the end of its range over 2.5 m: the strand may be thicker than it says.',
  );
});
