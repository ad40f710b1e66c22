/** The narrowest tolerance, mm. No gauge of such a line resolves less, and a band of no width judges nothing. */
export const TOLERANCE_MIN_MM = 0.001;

/** What the strand is judged against. Diameters in mm. */
export interface StrandLimits {
  readonly nominalMm: number;
  /** Half width of the tolerance band: nominal ± tolerance. */
  readonly toleranceMm: number;
  /** The largest diameter that passes the printer's filament path. */
  readonly hotendLimitMm: number;
  /** The smallest diameter that the printer's drive gear feeds reliably. */
  readonly smallestFeedableMm: number;
  /** Below this there is no strand in the gauge. */
  readonly strandPresentMm: number;
  /** A stretch out of tolerance for longer than this becomes a section, mm. */
  readonly offToleranceLengthMm: number;
  /** Expanded uncertainty (k = 2) of the gauge's calibration. Its noise is estimated from the readings. */
  readonly gaugeUncertaintyMm: number;
  /** Length of strand that the gauge sees at once. Absent = not known: versions before 3 of the detector did not use it. */
  readonly gaugeApertureMm?: number;
  /** Averaging time of one reading. Absent = not known. */
  readonly gaugeAveragingMs?: number;
}

/**
 * The edges of the tolerance band, mm; a diameter on one is within. Rounded, because 2.85 − 0.05 is 2.8000000000000003, which
 * would leave out each reading of 2.80 mm.
 */
export function toleranceBand({ nominalMm, toleranceMm }: Pick<StrandLimits, 'nominalMm' | 'toleranceMm'>): {
  readonly lowerMm: number;
  readonly upperMm: number;
} {
  return { lowerMm: rounded(nominalMm - toleranceMm), upperMm: rounded(nominalMm + toleranceMm) };
}

function rounded(mm: number): number {
  return Math.round(mm * 1e9) / 1e9;
}
