/**
 * A hint about a stretch of strand that prints, but shows that the line does not run evenly. It never changes a verdict or
 * a cut list. Gauge lengths in mm, times in UTC ms.
 */
interface Stretch {
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromTimeMs: number;
  readonly toTimeMs: number;
  /** Still continuing at the gauge. */
  readonly open: boolean;
}

/** The mean diameter has left the level at which the strand was steady. */
export interface DriftAdvisory extends Stretch {
  readonly kind: 'drift';
  /** Mean before, and at the end of the stretch (now, while it is open). */
  readonly beforeMm: number;
  readonly afterMm: number;
}

/** The diameter swings periodically. */
export interface SurgingAdvisory extends Stretch {
  readonly kind: 'surging';
  /** The strand swings by ± this. */
  readonly amplitudeMm: number;
  readonly periodMm: number;
  /** At the speed of that stretch; null where it stood still. */
  readonly periodS: number | null;
}

export type StrandAdvisory = DriftAdvisory | SurgingAdvisory;
