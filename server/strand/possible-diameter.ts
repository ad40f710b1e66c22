/** A bench extruder makes no thicker strand, and no bench gauge measures one (common practice, no source), mm. */
const THICKEST_MM = 10;
/** So many times its nominal diameter is no strand either: it matters for a nominal diameter beyond the usual ones. */
const TIMES_NOMINAL = 4;

/**
 * Whether a number can be the diameter of a strand at all, mm. What is thicker than any strand is a raw count whose factor
 * was not set, and no diameter. NaN is none.
 */
export function canBeStrand(diameterMm: number, nominalMm: number): boolean {
  return diameterMm <= Math.max(THICKEST_MM, TIMES_NOMINAL * nominalMm);
}
