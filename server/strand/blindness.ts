import { SHORTEST_BLOB_MM } from './excess-tracker.ts';

/** How a gauge looks at the strand. Zero = at a point, in an instant. */
export interface GaugeOptics {
  /** Length of strand that it sees at once, mm. */
  readonly apertureMm: number;
  /** How long one reading averages, s. */
  readonly averagingS: number;
}

export interface Blindness {
  /** Distance between two readings, mm. */
  readonly pitchMm: number;
  /** Strand that one reading averages over, mm. */
  readonly averagedMm: number;
  /** A blob just beyond the hotend limit is surely seen from this length on, mm. */
  readonly samplePitchMm: number;
  /** Longer than the shortest blob that a line makes, so that one may jam a hotend and was never seen. */
  readonly tooBlind: boolean;
}

/** A blob must not be missed when it stands so far beyond the limit, mm. */
const BEYOND_MM = 0.03;

/**
 * The shortest blob that is surely seen. A flat blob of length ℓ and height h over the strand, averaged over a, shows
 * h · min(a, ℓ/2 + a/2 − x)/a in a reading whose middle lies x from the blob's, never more than h · ℓ/a. The worst phase is
 * x = p/2 for readings p apart. What shows must reach up to the limit, which is the share f = (limit − nominal) /
 * (limit + 0.03 mm − nominal) of the height: ℓ = max(f·a, p + (2f − 1)·a), and never less than p. Null where the pitch is
 * not known.
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
