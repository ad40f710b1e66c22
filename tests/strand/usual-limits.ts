import type { StrandLimits } from '../../server/strand/strand-limits.ts';

/** Strand of 1.75 mm for a hotend with a bore of 1.9 mm; the rest as a new line is set. */
export const USUAL_LIMITS: StrandLimits = {
  nominalMm: 1.75,
  toleranceMm: 0.05,
  hotendLimitMm: 1.9,
  smallestFeedableMm: 1.6,
  strandPresentMm: 0.5,
  offToleranceLengthMm: 200,
  gaugeUncertaintyMm: 0.005,
};
