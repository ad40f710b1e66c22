/** Mass of strand from geometry: m = ρ · π/4 · d² · L. With ρ in g/cm³ and lengths in mm, 1 cm³ = 1000 mm³. */

/** Grams of a length of round strand. */
export function gramsOfLength(lengthMm: number, diameterMm: number, densityGPerCm3: number): number {
  return (densityGPerCm3 / 1000) * (Math.PI / 4) * diameterMm * diameterMm * lengthMm;
}

/** Millimetres of round strand that weigh this many grams. */
export function lengthOfGrams(grams: number, diameterMm: number, densityGPerCm3: number): number {
  return grams / gramsOfLength(1, diameterMm, densityGPerCm3);
}

export function metresPerKilogram(diameterMm: number, densityGPerCm3: number): number {
  return lengthOfGrams(1000, diameterMm, densityGPerCm3) / 1000;
}
