import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { Problem } from '../../../server/problem/problem.ts';
import { pace, reelCapacity } from '../../../server/strand/reel/reel-capacity.ts';
import { lengthOfLayers, placeOnReel, positionAtTurns } from '../../../server/strand/reel/reel-place.ts';

/** A common 1 kg spool; common practice, no source. */
const reel = { coreDiameterMm: 80, flangeDiameterMm: 200, widthMm: 55, pitchMm: 1.8 };

describe('a place on the spool', () => {
  it('begins at the core and climbs a layer when one is full', () => {
    expect(placeOnReel(reel, 1.75, 0)).toMatchObject({ layer: 1, turnInLayer: 1, turns: 0, radiusMm: 40.875 });
    const first = lengthOfLayers(reel, 1.75, 1);
    expect(placeOnReel(reel, 1.75, first - 0.01)).toMatchObject({ layer: 1, turnInLayer: 30 });
    const second = placeOnReel(reel, 1.75, first + 0.01);
    expect(second).toMatchObject({ layer: 2, turnInLayer: 1 });
    // The winder turns back: the second layer begins where the first ended.
    expect(second.acrossMm).toBeCloseTo(placeOnReel(reel, 1.75, first - 0.01).acrossMm, 9);
  });

  it('is found again from its turns, everywhere', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 400_000, noNaN: true }), (at) => {
        const place = placeOnReel(reel, 1.75, at);
        expect(positionAtTurns(reel, 1.75, place.turns)).toBeCloseTo(at, 5);
        expect(place.turnInLayer).toBeGreaterThanOrEqual(1);
        expect(place.turnInLayer).toBeLessThanOrEqual(30);
        expect(lengthOfLayers(reel, 1.75, place.layer - 1)).toBeLessThanOrEqual(at);
        expect(lengthOfLayers(reel, 1.75, place.layer)).toBeGreaterThan(at);
      }),
    );
  });

  it('is refused on a spool that cannot be', () => {
    expect(() => placeOnReel({ ...reel, coreDiameterMm: 0 }, 1.75, 5)).toThrow(Problem);
    expect(() => placeOnReel({ ...reel, flangeDiameterMm: 60 }, 1.75, 5)).toThrow(/smaller than the core/);
    expect(() => placeOnReel({ ...reel, pitchMm: 70 }, 1.75, 5)).toThrow(/wider/);
    expect(() => placeOnReel(reel, 1.75, -5)).toThrow(RangeError);
  });
});

describe('room on the spool', () => {
  it('is a kilogram and some on a common spool, and less with a free rim', () => {
    const capacity = reelCapacity(reel, 1.75, 1.24);
    expect(capacity.grams).toBeGreaterThan(1000);
    expect(capacity.grams).toBeLessThan(1500);
    expect(reelCapacity(reel, 1.75, 1.24, 5).layers).toBe(capacity.layers - 3);
  });

  it('tells pace and time until it is full', () => {
    const capacity = { layers: 1, lengthMm: 335_280, grams: 1000 };
    // 93 mm/s of 1.75 mm PLA are 1 kg/h; common practice, no source.
    const now = pace(capacity, 0, { speedMmPerS: 93.13, diameterMm: 1.75, densityGPerCm3: 1.24 });
    expect(now.gramsPerHour).toBeCloseTo(1000, 0);
    expect(now.timeToFullS).toBeCloseTo(3600, 0);
    expect(pace(capacity, 400_000, { speedMmPerS: 0, diameterMm: 1.75, densityGPerCm3: 1.24 })).toMatchObject({
      remainingMm: 0,
      timeToFullS: 0,
    });
    expect(pace(capacity, 0, { speedMmPerS: 0, diameterMm: 1.75, densityGPerCm3: 1.24 }).timeToFullS).toBe(
      Number.POSITIVE_INFINITY,
    );
  });
});
