/** Bench extruders make, and bench gauges measure, no thicker strand (common practice, no source), mm. */
const THICKEST_MM = 10;
/** For unusually large nominal diameters: no strand is this many times its nominal diameter. */
const TIMES_NOMINAL = 4;

/**
 * Whether a value, in mm, can be the diameter of strand. A larger one is a raw count whose scale factor has not been set.
 * False for NaN.
 */
export function canBeStrand(diameterMm: number, nominalMm: number): boolean {
  return diameterMm <= Math.max(THICKEST_MM, TIMES_NOMINAL * nominalMm);
}
