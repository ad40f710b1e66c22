import { describe, expect, it } from 'vitest';
import { adviceOfBlindness, adviceOfGauge, adviceOfNoise, adviceOfSections } from '../../server/strand/advice.ts';
import { blindness, hidingGapMm } from '../../server/strand/blindness.ts';
import { seeded } from '../chance.ts';

const LIMITS = { nominalMm: 1.75, hotendLimitMm: 1.9 };
const POINT = { apertureMm: 0, averagingS: 0 };

describe('the shortest blob that is surely seen', () => {
  it('is 2.3 sample pitches long where the gauge measures a point, as calculated by hand', () => {
    // The limit is at 0.15 / 0.25 = 0.6 of the height: cos(π p / ℓ) = 2 · 0.6 − 1, so ℓ = π p / arccos 0.2 = 2.294 p.
    const found = blindness(0.7, 35, POINT, LIMITS);
    expect(found).toMatchObject({ pitchMm: 0.7, averagedMm: 0, tooBlind: false });
    expect(found?.surelySeenMm).toBeCloseTo((Math.PI * 0.7) / Math.acos(0.2), 6);
  });

  it('exceeds the shortest blob of 2 mm from a pitch of 0.87 mm on', () => {
    expect(hidingGapMm(LIMITS)).toBeCloseTo((2 * Math.acos(0.2)) / Math.PI, 9);
    expect(blindness(0.87, 43.5, POINT, LIMITS)?.tooBlind).toBe(false);
    expect(blindness(0.875, 44, POINT, LIMITS)?.tooBlind).toBe(true);
    expect(blindness(1.8, 90, POINT, LIMITS)?.tooBlind).toBe(true);
  });

  it('adds what a reading averages while the strand moves', () => {
    expect(blindness(1, 50, { apertureMm: 1, averagingS: 0.02 }, LIMITS)?.averagedMm).toBeCloseTo(2, 12);
  });

  it.each([
    [1, 0],
    [1, 0.5],
    [1, 2],
    [0.3, 3],
    [4, 1],
  ])('holds in the worst phase of a round blob (%d mm apart, %d mm averaged)', (pitch, averaged) => {
    const { surelySeenMm } = blindness(pitch, 0, { apertureMm: averaged, averagingS: 0 }, LIMITS)!;
    expect(leastShown(surelySeenMm * 1.005, pitch, averaged)).toBeGreaterThanOrEqual(0.15);
    expect(leastShown(surelySeenMm * 0.97, pitch, averaged)).toBeLessThan(0.15);

    /** Highest reading of a raised cosine 0.25 mm high, at the worst phase; the mean is taken over small steps. */
    function leastShown(lengthMm: number, pitchMm: number, averagedMm: number): number {
      const heightAt = (mm: number) =>
        Math.abs(mm) >= lengthMm / 2 ? 0 : 0.125 * (1 + Math.cos((2 * Math.PI * mm) / lengthMm));
      const reading = (mm: number) => {
        if (averagedMm === 0) return heightAt(mm);
        let sum = 0;
        for (let i = 0; i < 200; i++) sum += heightAt(mm + ((i + 0.5) / 200 - 0.5) * averagedMm);
        return sum / 200;
      };
      let least = Number.POSITIVE_INFINITY;
      for (let phase = 0; phase < 1; phase += 0.01) {
        let most = 0;
        for (let k = -8; k <= 8; k++) most = Math.max(most, reading((k + phase) * pitchMm));
        least = Math.min(least, most);
      }
      return least;
    }
  });

  it('gets a hint wherever short blobs can pass unseen', () => {
    const random = seeded(14);
    for (const [pitch, hint] of [
      [0.4, false],
      [0.85, false],
      [1.8, true],
    ] as const) {
      const { surelySeenMm, tooBlind } = blindness(pitch, 0, POINT, LIMITS)!;
      expect(tooBlind).toBe(hint);
      let missed = 0;
      for (let i = 0; i < 2000; i++) {
        const lengthMm = 2 + 3 * random();
        const heightMm = 0.25 + 0.3 * random();
        const phase = random();
        const shows = [-9, -8, -7, -6, -5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 6, 7, 8].some((k) => {
          const mm = (k + phase) * pitch;
          return Math.abs(mm) < lengthMm / 2 && (heightMm / 2) * (1 + Math.cos((2 * Math.PI * mm) / lengthMm)) >= 0.15;
        });
        if (shows) continue;
        missed++;
        expect(lengthMm).toBeLessThan(surelySeenMm);
      }
      expect(missed > 0).toBe(hint);
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
      'Blobs under 5.8 mm may pass unseen: readings are 2.5 mm apart and each averages 1.0 mm.',
    );
  });

  it('and to other advice where noise may hide even blobs that are long enough', () => {
    expect([null, 0.008, 0.02].map(adviceOfNoise)).toEqual([null, null, null]);
    // Garwood's bound of 9 in 1241 is 1.27 %.
    expect(adviceOfNoise(0.034)?.sentence).toBe(
      'Readings scatter by 0.034 mm: up to 1.3 % of the blobs that only three of them see may be missed, and more of shorter ones.',
    );
  });
});

it('describes a saturated gauge in the present tense now, and with its length for a past stretch', () => {
  expect(adviceOfGauge('gaugeSaturated', null)).toMatchObject({ open: true, fromMm: null });
  expect(adviceOfGauge('gaugeSaturated', { fromMm: 1000, toMm: 3500 }).sentence).toBe(
    'The gauge was at the end of its range over 2.5 m: the strand may be thicker than it says.',
  );
});

it('sums up what the gauge did to many stretches, and what to check, one advice a kind', () => {
  const stretch = (part: object) => ({ kind: 'unknown' as const, fromMm: 1000, toMm: 2000, open: false, ...part });
  const advice = adviceOfSections([
    stretch({}),
    // The same strand, out of tolerance because of the shift, and a blob at the end of it.
    stretch({ doubt: 'gaugeShifted', open: true }),
    stretch({ kind: 'offTolerance', doubt: 'gaugeShifted', fromMm: 1100, toMm: 1990 }),
    stretch({ kind: 'blob', doubt: 'gaugeShifted', fromMm: 1990, toMm: 2010 }),
    stretch({ kind: 'outOfRound', doubt: 'nearLimit' }),
    stretch({ kind: 'outOfRound', fromMm: 5000, toMm: 5500 }),
    stretch({ kind: 'blob', doubt: 'oneReading' }),
  ]);
  expect(advice).toMatchObject([
    {
      kind: 'outOfRound',
      sentence: 'The strand was out of round over 1.5 m in 2 stretches.',
      fromMm: 1000,
      toMm: 5500,
      open: false,
    },
    { kind: 'gaugeShifted', open: true, sentence: expect.stringContaining('has stayed there over 1.0 m.') },
  ]);
  expect(advice[0]!.hint).toContain('fan');
});
