import { describe, expect, it } from 'vitest';
import { lengthOfGrams } from '../../server/strand/mass.ts';
import { reelCapacity } from '../../server/strand/reel/reel-capacity.ts';
import { lengthOfLayers, woundDiameter } from '../../server/strand/reel/reel-place.ts';

const INCH = 25.4;
const FOOT = 12 * INCH;

describe('spool geometry', () => {
  it('holds as much rope as in a published example of a drum', () => {
    // Barrel 10 in, flange 20 in, width 12 in, rope 1/2 in: 10 layers, "about 940 ft", layer sum 942.48
    // (https://oanor.com/it/tema/cable-drum).
    const reel = {
      coreDiameterMm: 10 * INCH,
      flangeDiameterMm: 20 * INCH,
      widthMm: 12 * INCH,
      pitchMm: 0.5 * INCH,
    };
    const capacity = reelCapacity(reel, 0.5 * INCH, 1.24);
    expect(capacity.layers).toBe(10);
    expect(capacity.lengthMm / FOOT).toBeCloseTo(942.48, 2);
    // Reel factor of the wire trade, L(ft) = (H + B)·H·T·0.262/d² with flange depth H = 5 in
    // (https://quabbin.com/tech-briefs/method-calculate-capacity-reel-or-spool): 0.262 is π/12 rounded.
    expect(Math.abs(capacity.lengthMm / FOOT / (((5 + 10) * 5 * 12 * 0.262) / 0.25) - 1)).toBeLessThan(0.001);
  });

  it('grows as a worked example of square-packed rope does', () => {
    // Rope 6 mm, 20 m, width 60 mm, core 50 mm: diameter 133.3374 mm (https://www.hackmath.net/en/math-problem/8298, with
    // V = 36·20000 + π·25²·60 = 837809.7245 mm³ = π·r²·60).
    const reel = { coreDiameterMm: 50, flangeDiameterMm: 200, widthMm: 60, pitchMm: 6 };
    expect(woundDiameter(reel, 6, 20_000)).toBeCloseTo(133.3374, 3);
  });

  it('makes one layer as long as its turns', () => {
    const reel = { coreDiameterMm: 50, flangeDiameterMm: 200, widthMm: 60, pitchMm: 6 };
    expect(lengthOfLayers(reel, 6, 1)).toBeCloseTo(10 * Math.PI * 56, 9);
  });

  it('converts a kilogram to the metres in data sheets', () => {
    // https://ecoreprap.com/1kg-filament-length/ (PLA 1.24 g/cm³: 335 m);
    // https://help.matterhackers.com/article/16-how-long-is-a-spool-of-filament (ABS 1.04: 400 m)
    expect(lengthOfGrams(1000, 1.75, 1.24) / 1000).toBeCloseTo(335.28, 2);
    expect(lengthOfGrams(1000, 1.75, 1.04) / 1000).toBeCloseTo(399.76, 2);
    expect(lengthOfGrams(1000, 2.85, 1.24) / 1000).toBeCloseTo(126.42, 2);
  });
});
