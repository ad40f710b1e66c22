import { describe, expect, it } from 'vitest';
import { gramsOfLength, lengthOfGrams, massUncertaintyShare, metresPerKilogram } from '../../server/strand/mass.ts';

describe('metres of a kilogram agree with published figures', () => {
  it('PLA of 1.24 g/cm³ at 1.75 mm: about 335 m (https://ecoreprap.com/1kg-filament-length/)', () => {
    expect(Math.round(metresPerKilogram(1.75, 1.24))).toBe(335);
  });

  it('ABS of 1.04 g/cm³ at 1.75 mm: about 400 m (worked line of https://help.matterhackers.com/article/16-how-long-is-a-spool-of-filament)', () => {
    expect(metresPerKilogram(1.75, 1.04)).toBeCloseTo(400, -0.5);
  });

  // By geometry, worked by hand: 1000 / (ρ · π/4 · d²), areas 2.40528 mm² and 6.37940 mm².
  it.each([
    ['PLA', 1.75, 1.24, 335.28],
    ['ABS', 1.75, 1.04, 399.76],
    ['PETG', 1.75, 1.27, 327.36],
    ['PLA', 2.85, 1.24, 126.42],
    ['PETG', 2.85, 1.27, 123.43],
    ['ABS', 2.85, 1.04, 150.73],
  ])('%s, %f mm, %f g/cm³: %f m', (_name, diameter, density, metres) => {
    expect(metresPerKilogram(diameter, density)).toBeCloseTo(metres, 2);
  });

  it.each([
    ['PLA', 1.24, 2.9825],
    ['PETG', 1.27, 3.0547],
    ['ABS', 1.04, 2.5015],
  ])('a metre of 1.75 mm %s weighs %f·π/4·d² = %f g', (_name, density, grams) => {
    expect(gramsOfLength(1000, 1.75, density)).toBeCloseTo(grams, 4);
    expect(lengthOfGrams(grams, 1.75, density)).toBeCloseTo(1000, 1);
  });
});

describe('the uncertainty of a mass', () => {
  it('follows from those of length, diameter and density (JCGM 100:2008, 5.1.6), the diameter counting twice', () => {
    // By Monte Carlo (JCGM 101), Python: 400,000 draws of gauss(1.24, 0.0186) · gauss(1.75, 0.005)² · gauss(100, 1): 0.0189.
    const share = massUncertaintyShare({ lengthShare: 0.01, diameterShare: 0.005 / 1.75, densityShare: 0.015 });
    expect(share).toBeCloseTo(0.0189, 4);
    expect(massUncertaintyShare({ lengthShare: 0.02, diameterShare: 0, densityShare: 0 })).toBe(0.02);
    expect(massUncertaintyShare({ lengthShare: 0, diameterShare: 0.01, densityShare: 0 })).toBe(0.02);
    expect(massUncertaintyShare({ lengthShare: 0, diameterShare: 0, densityShare: 0.03 })).toBe(0.03);
  });
});
