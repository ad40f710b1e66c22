import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { Problem } from '../../../server/problem/problem.ts';
import { countedTurns, isPlausible, turnsAt } from '../../../server/strand/reel/counted-turns.ts';
import { pace, reelCapacity } from '../../../server/strand/reel/reel-capacity.ts';
import {
  lengthOfLayers,
  placeAtTurns,
  placeOnReel,
  roughPlace,
  woundDiameter,
} from '../../../server/strand/reel/reel-place.ts';
import { tries } from '../../long-check.ts';

/** A common 1 kg spool; common practice, no source. */
const reel = { coreDiameterMm: 80, flangeDiameterMm: 200, widthMm: 55, pitchMm: 1.8 };

describe('a place on the spool', () => {
  it('starts at the core and moves up a layer when one is full', () => {
    expect(placeOnReel(reel, 1.75, 0)).toMatchObject({ layer: 1, turnInLayer: 1, turns: 0, radiusMm: 40.875 });
    const first = lengthOfLayers(reel, 1.75, 1);
    expect(placeOnReel(reel, 1.75, first - 0.01)).toMatchObject({ layer: 1, turnInLayer: 30 });
    const second = placeOnReel(reel, 1.75, first + 0.01);
    expect(second).toMatchObject({ layer: 2, turnInLayer: 1 });
    // The winder reverses: the second layer starts where the first ended.
    expect(second.acrossMm).toBeCloseTo(placeOnReel(reel, 1.75, first - 0.01).acrossMm, 9);
  });

  it('agrees with its turns everywhere', () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 400_000, noNaN: true }), (at) => {
        const place = placeOnReel(reel, 1.75, at);
        // A turn of this layer is 2π·radius long; the layers below it are whole.
        const turnsBelow = 30 * (place.layer - 1);
        const positionMm =
          lengthOfLayers(reel, 1.75, place.layer - 1) + (place.turns - turnsBelow) * 2 * Math.PI * place.radiusMm;
        expect(positionMm).toBeCloseTo(at, 5);
        expect(placeAtTurns(reel, 1.75, place.turns)).toMatchObject({
          layer: place.layer,
          turnInLayer: place.turnInLayer,
        });
        expect(place.turnInLayer).toBeGreaterThanOrEqual(1);
        expect(place.turnInLayer).toBeLessThanOrEqual(30);
        expect(lengthOfLayers(reel, 1.75, place.layer - 1)).toBeLessThanOrEqual(at);
        expect(lengthOfLayers(reel, 1.75, place.layer)).toBeGreaterThan(at);
      }),
    );
  });

  it('is refused for an impossible spool', () => {
    expect(() => placeOnReel({ ...reel, coreDiameterMm: 0 }, 1.75, 5)).toThrow(Problem);
    expect(() => placeOnReel({ ...reel, flangeDiameterMm: 60 }, 1.75, 5)).toThrow(/smaller than the core/);
    expect(() => placeOnReel({ ...reel, pitchMm: 70 }, 1.75, 5)).toThrow(/wider/);
    expect(() => placeOnReel(reel, 1.75, -5)).toThrow(RangeError);
  });
});

describe('a place where no turns were counted', () => {
  /** Layer by layer: each adds so much, and holds so many turns. */
  const layerAt = (positionMm: number, layerMm: number, turns = 30): number => {
    let [layer, leftMm] = [1, positionMm];
    for (;;) {
      const lengthMm = turns * 2 * Math.PI * (40 + 0.875 + (layer - 1) * layerMm);
      if (leftMm < lengthMm) return layer;
      leftMm -= lengthMm;
      layer += 1;
    }
  };

  it('is in one of the layers that stacking allows, from square to fully nested', () => {
    // Nested in grooves 1.8 mm apart, a strand of 1.75 mm rises by √(1.75² − 0.9²) a layer.
    const nestedMm = Math.sqrt(1.75 ** 2 - 0.9 ** 2);
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 400_000, noNaN: true }),
        fc.double({ min: 0, max: 1, noNaN: true }),
        fc.double({ min: -0.02, max: 0.02, noNaN: true }),
        fc.constantFrom(29, 29.5, 30),
        (at, nested, off, turns) => {
          const layer = layerAt(at * (1 + off), 1.75 + nested * (nestedMm - 1.75), turns);
          const { layerLeast, layerMost } = roughPlace(reel, 1.75, at, 400_000, 0.02);
          expect(layer).toBeGreaterThanOrEqual(layerLeast);
          expect(layer).toBeLessThanOrEqual(layerMost);
        },
      ),
    );
    expect(roughPlace(reel, 1.75, 330_000, 330_000, 0)).toMatchObject({
      layerLeast: layerAt(330_000, 1.75),
      layerMost: layerAt(330_000, nestedMm, 29),
    });
    expect(layerAt(330_000, nestedMm)).toBeGreaterThan(layerAt(330_000, 1.75));
  });

  it('is a share of the way from the core to the outside', () => {
    expect(roughPlace(reel, 1.75, 0, 330_000, 0.02)).toEqual({ layerLeast: 1, layerMost: 1, radiusShare: 0 });
    expect(roughPlace(reel, 1.75, 330_000, 330_000, 0.02).radiusShare).toBe(1);
    expect(roughPlace(reel, 1.75, 0, 0, 0.02).radiusShare).toBe(0);
    // By areas: r² − 40² goes with the length.
    const outside = woundDiameter(reel, 1.75, 330_000) / 2;
    const half = (Math.sqrt((40 ** 2 + outside ** 2) / 2) - 40) / (outside - 40);
    expect(roughPlace(reel, 1.75, 165_000, 330_000, 0.02).radiusShare).toBeCloseTo(half, 9);
  });
});

describe('the capacity of a spool', () => {
  it('is a little over a kilogram for a common spool, and less with a free rim', () => {
    const capacity = reelCapacity(reel, 1.75, 1.24);
    expect(capacity.grams).toBeGreaterThan(1000);
    expect(capacity.grams).toBeLessThan(1500);
    expect(reelCapacity(reel, 1.75, 1.24, 5).layers).toBe(capacity.layers - 3);
  });

  it('gives pace and time until the spool is full', () => {
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

describe('a winder that counts its turns', () => {
  /** The core differs from the one that was set, which only the counter can show. */
  const trueReel = { ...reel, coreDiameterMm: 88 };
  const WOUND_MM = 120_000;
  const trueTurns = (mm: number) => placeOnReel(trueReel, 1.75, mm).turns;
  const byGeometry = (mm: number) => placeOnReel(reel, 1.75, mm).turns;
  const heard = (pitchMm: number, count: (turns: number, mm: number) => number | null) => {
    const positionMm = Array.from({ length: Math.floor(WOUND_MM / pitchMm) }, (_, i) => i * pitchMm);
    return { positionMm, count: positionMm.map((mm) => count(trueTurns(mm), mm)) };
  };
  const worstOff = (found: NonNullable<ReturnType<typeof countedTurns>>) => {
    let worst = 0;
    for (let mm = 0; mm <= WOUND_MM; mm += 37) worst = Math.max(worst, Math.abs(turnsAt(found, mm) - trueTurns(mm)));
    return worst;
  };

  it('is accurate to one turn, wherever its counter starts and whatever core is set', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 5, max: 200, noNaN: true }),
        fc.integer({ min: 0, max: 60_000 }),
        (pitchMm, begin) => {
          const found = countedTurns(
            heard(pitchMm, (turns) => Math.floor(begin + turns)),
            WOUND_MM,
            byGeometry,
          )!;
          // A whole turn may be unseen, and the strand between two readings.
          expect(worstOff(found)).toBeLessThan(1 + pitchMm / (Math.PI * 88) + 0.01);
          expect(found.bridgedTurns).toBeLessThan(1.1);
        },
      ),
      { numRuns: tries(40) },
    );
    // From the set core alone, the turns would be far off.
    expect(byGeometry(WOUND_MM) - trueTurns(WOUND_MM)).toBeGreaterThan(20);
  });

  it('continues when the device restarts, sends garbage, or is silent for a while', () => {
    const restart = trueTurns(50_000);
    const found = countedTurns(
      heard(20, (turns, mm) => {
        if (mm > 50_000 && mm < 52_000) return null;
        if (mm === 80_000) return 4_000_000;
        return Math.floor(mm <= 50_000 ? turns : turns - restart);
      }),
      WOUND_MM,
      byGeometry,
    )!;
    expect(worstOff(found)).toBeLessThan(2.5);
    // 2 m, with turns about 0.3 m long.
    expect(found.bridgedTurns).toBeGreaterThan(5);
    expect(found.bridgedTurns).toBeLessThan(10);
    expect(isPlausible(found, byGeometry(WOUND_MM))).toBe(true);
  });

  it('is implausible when it stands still or counts pulses, and null when it sends nothing', () => {
    for (const odd of [() => 7, (turns: number) => Math.floor(turns * 20), (turns: number) => Math.floor(turns / 20)]) {
      for (const pitchMm of [10, 400]) {
        const found = countedTurns(heard(pitchMm, odd), WOUND_MM, byGeometry)!;
        expect(isPlausible(found, byGeometry(WOUND_MM))).toBe(false);
      }
    }
    expect(
      countedTurns(
        heard(20, () => null),
        WOUND_MM,
        byGeometry,
      ),
    ).toBeNull();
  });

  it('gives layer and turn from the set width and pitch: 30 turns fill a layer', () => {
    expect(placeAtTurns(reel, 1.75, 0)).toMatchObject({ layer: 1, turnInLayer: 1 });
    expect(placeAtTurns(reel, 1.75, 29.99)).toMatchObject({ layer: 1, turnInLayer: 30 });
    expect(placeAtTurns(reel, 1.75, 30)).toMatchObject({ layer: 2, turnInLayer: 1, radiusMm: 40 + 1.5 * 1.75 });
    expect(() => placeAtTurns(reel, 1.75, Number.NaN)).toThrow(RangeError);
  });
});
