/**
 * What is to be known of a stretch of strand that is neither too thick nor too thin: it prints, but the line that made it
 * is not even. An advisory never changes a verdict and cuts nothing. Gauge lengths in mm, times in UTC ms.
 */
interface Stretch {
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromTimeMs: number;
  readonly toTimeMs: number;
  /** It goes on at the gauge. */
  readonly open: boolean;
}

/** The mean diameter has left the level at which the strand was steady. */
export interface DriftAdvisory extends Stretch {
  readonly kind: 'drift';
  /** Mean before, and at the end of the stretch (now, while it is open). */
  readonly beforeMm: number;
  readonly afterMm: number;
}

/** The diameter swings evenly. */
export interface SurgingAdvisory extends Stretch {
  readonly kind: 'surging';
  /** The strand swings by ± this. */
  readonly amplitudeMm: number;
  readonly periodMm: number;
  /** At the speed at which it passed; null where it stood. */
  readonly periodS: number | null;
}

export type StrandAdvisory = DriftAdvisory | SurgingAdvisory;
