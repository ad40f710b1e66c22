import { SHORTEST_BLOB_MM } from './excursion.ts';

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
  /** A round blob that jams a hotend is surely seen from this length on, mm. */
  readonly surelySeenMm: number;
  /** `surelySeenMm` is longer than the shortest blob that a line makes: a blob that jams a hotend may go unseen. */
  readonly tooBlind: boolean;
}

/** A round blob with its top this far beyond the limit jams a hotend for sure (common practice, no source), mm. */
const BEYOND_MM = 0.1;
const LENGTH_STEPS = 40;

interface Limits {
  readonly nominalMm: number;
  readonly hotendLimitMm: number;
}

/**
 * The shortest blob that is surely seen, as a raised cosine, which is how blobs of a bench line look. In the worst phase its
 * top lies halfway between two readings. Each averages over the strand around it, and must still reach the limit.
 */
export function blindness(pitchMm: number, speedMmPerS: number, optics: GaugeOptics, limits: Limits): Blindness | null {
  if (!(pitchMm > 0)) return null;
  const moved = Number.isNaN(speedMmPerS) ? 0 : Math.abs(speedMmPerS) * optics.averagingS;
  const averagedMm = optics.apertureMm + moved;
  const share = limitShare(limits);
  // A longer blob shows more of its height, so the length is found by bisection.
  let tooShortMm = 0;
  let seenMm = pitchMm + averagedMm;
  while (shownShare(seenMm, pitchMm / 2, averagedMm) < share) seenMm *= 2;
  for (let i = 0; i < LENGTH_STEPS; i++) {
    const middleMm = (tooShortMm + seenMm) / 2;
    if (shownShare(middleMm, pitchMm / 2, averagedMm) < share) tooShortMm = middleMm;
    else seenMm = middleMm;
  }
  return { pitchMm, averagedMm, surelySeenMm: seenMm, tooBlind: seenMm > SHORTEST_BLOB_MM };
}

/** Strand between two readings of a point in which the shortest blob can hide, mm. */
export function hidingGapMm(limits: Limits): number {
  return (SHORTEST_BLOB_MM * Math.acos(2 * limitShare(limits) - 1)) / Math.PI;
}

/** Height of the limit above nominal, as a share of the blob's. */
function limitShare({ nominalMm, hotendLimitMm }: Limits): number {
  const height = Math.max(0, hotendLimitMm - nominalMm);
  return height / (height + BEYOND_MM);
}

/** Mean height over `averagedMm` around a place `offMm` from the top of a raised cosine of that length and height 1. */
function shownShare(lengthMm: number, offMm: number, averagedMm: number): number {
  const half = lengthMm / 2;
  if (averagedMm <= 0) return offMm >= half ? 0 : (1 + Math.cos((Math.PI * offMm) / half)) / 2;
  const volumeTo = (mm: number) => {
    const at = Math.min(half, Math.max(-half, mm));
    return (at + (half / Math.PI) * Math.sin((Math.PI * at) / half)) / 2;
  };
  return (volumeTo(offMm + averagedMm / 2) - volumeTo(offMm - averagedMm / 2)) / averagedMm;
}
