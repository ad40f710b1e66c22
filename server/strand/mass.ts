/** Mass of strand from geometry: m = ρ · π/4 · d² · L. With ρ in g/cm³ and lengths in mm, 1 cm³ = 1000 mm³. */

/** Grams of a length of round strand. */
export function gramsOfLength(lengthMm: number, diameterMm: number, densityGPerCm3: number): number {
  return (densityGPerCm3 / 1000) * (Math.PI / 4) * diameterMm * diameterMm * lengthMm;
}

/** Millimetres of round strand that weigh this many grams. */
export function lengthOfGrams(grams: number, diameterMm: number, densityGPerCm3: number): number {
  return grams / gramsOfLength(1, diameterMm, densityGPerCm3);
}

/** Relative uncertainties, all with the same coverage factor. */
export interface MassSources {
  readonly lengthShare: number;
  readonly diameterShare: number;
  readonly densityShare: number;
}

/**
 * Relative uncertainty of a mass, with the coverage factor of its sources: (u_L/L)² + (2·u_d/d)² + (u_ρ/ρ)², because mass is
 * proportional to the square of the diameter. Law of propagation of uncertainty, JCGM 100:2008 (GUM), 5.1.6.
 */
export function massUncertaintyShare({ lengthShare, diameterShare, densityShare }: MassSources): number {
  return Math.hypot(lengthShare, 2 * diameterShare, densityShare);
}

export function metresPerKilogram(diameterMm: number, densityGPerCm3: number): number {
  return lengthOfGrams(1000, diameterMm, densityGPerCm3) / 1000;
}
