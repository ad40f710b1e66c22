import { SHORTEST_BLOB_MM } from './blob-and-neck-tracker.ts';

/** What one reading of the gauge averages over. Zero = a point, at an instant. */
export interface GaugeOptics {
  /** Length of strand seen at once, mm. */
  readonly apertureMm: number;
  /** Averaging time of one reading, s. */
  readonly averagingS: number;
}

export interface Blindness {
  /** Distance between two readings, mm. */
  readonly pitchMm: number;
  /** Strand that one reading averages over, mm. */
  readonly averagedMm: number;
  /** A blob just beyond the hotend limit is surely seen from this length on, mm. */
  readonly samplePitchMm: number;
  /** `samplePitchMm` is longer than the shortest blob that a line makes: a blob that jams a hotend may go unseen. */
  readonly tooBlind: boolean;
}

/** A blob this far beyond the limit must not be missed, mm. */
const BEYOND_MM = 0.03;

/**
 * The shortest blob that is surely seen. A reading that averages over a, with its middle x away from that of a flat blob of
 * length ℓ and height h, shows h · min(a, ℓ/2 + a/2 − x)/a, and never more than h · ℓ/a. The worst phase is x = p/2 for
 * readings p apart. The reading must reach the limit, which is the share f = (limit − nominal) / (limit + 0.03 mm −
 * nominal) of the height. Hence ℓ = max(f·a, p + (2f − 1)·a), and never less than p. Null where the pitch is not known.
 */
export function blindness(
  pitchMm: number,
  speedMmPerS: number,
  optics: GaugeOptics,
  limits: { readonly nominalMm: number; readonly hotendLimitMm: number },
): Blindness | null {
  if (!(pitchMm > 0)) return null;
  const moved = Number.isNaN(speedMmPerS) ? 0 : Math.abs(speedMmPerS) * optics.averagingS;
  const averagedMm = optics.apertureMm + moved;
  const height = Math.max(0, limits.hotendLimitMm - limits.nominalMm);
  const share = height / (height + BEYOND_MM);
  const samplePitchMm = Math.max(pitchMm, share * averagedMm, pitchMm + (2 * share - 1) * averagedMm);
  return { pitchMm, averagedMm, samplePitchMm, tooBlind: samplePitchMm > SHORTEST_BLOB_MM };
}
