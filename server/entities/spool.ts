import type { CutObjective } from '../strand/plan/cut-request.ts';
import type { PrintAmount } from '../strand/verdict/print-fit.ts';

/**
 * The strand between two spool changes. `startGaugeMm` is the gauge length of its inner end: a point with gauge length g has the
 * spool position g − startGaugeMm. `endGaugeMm` is the gauge length of its outer end; null while it is being wound.
 */
export interface Spool {
  readonly id: number;
  readonly runId: number;
  /** 1 = first spool of the run. */
  readonly ordinal: number;
  readonly startGaugeMm: number;
  readonly endGaugeMm: number | null;
  readonly startedMs: number;
  readonly endedMs: number | null;
  readonly note: string;
  /** What users call it, beside its number; '' = nothing. */
  readonly title: string;
  /** How much strand a user wants on it. */
  readonly wanted?: PrintAmount;
}

export type NewSpool = Pick<Spool, 'runId' | 'startGaugeMm' | 'startedMs'>;

/** A user's choices for judging and cutting a spool. */
export interface SpoolChoices {
  /** 0 = the line's own limits. */
  readonly printerId: number;
  readonly objective: CutObjective;
  /** Prints that the coils should be long enough for. */
  readonly prints: readonly PrintAmount[];
  /** Shortest coil worth keeping; null = as in the settings of the line. */
  readonly shortestMm: number | null;
  readonly doubtful: 'keep' | 'cut';
  readonly unknown: 'keep' | 'cut';
}

/** A completed step at the rewinder. Lengths in mm, counted since the previous cut. */
export interface KeptCut {
  readonly id: number;
  readonly action: 'keep' | 'discard';
  readonly countedMm: number;
  readonly landmarkCountedMm: number | null;
  readonly reachedEnd: boolean;
  readonly atMs: number;
  readonly who: string;
  /**
   * The place of the piece on the strand, by gauge length, and the last certain place of the count before the cut.
   * null = an old record without places; they follow from the counts.
   */
  readonly place: {
    readonly fromGaugeMm: number;
    readonly toGaugeMm: number;
    readonly knownToGaugeMm: number;
    /** True length per gauge length as assumed at the time; the counts were true lengths. */
    readonly lengthFactor: number;
  } | null;
}

/** A coil's name, entered by a user; empty = removed. */
export interface CoilName {
  readonly id: number;
  /** Number of the coil in the cut plan of that time, from 1. */
  readonly coil: number;
  readonly name: string;
  /** The coil's strand; null = an old record, not yet looked up. */
  readonly place: { readonly fromGaugeMm: number; readonly toGaugeMm: number } | null;
}

/** The whole spool on a scale, after winding and before the first cut. */
export interface Weighing {
  /** Spool and strand. */
  readonly grossG: number;
  /** The empty spool. */
  readonly tareG: number;
  /** Expanded uncertainty of the difference, k = 2. */
  readonly uncertaintyG: number;
  readonly atMs: number;
  readonly who: string;
}

/** A tape measurement: strand that the line counted as `indicatedMm` measures `measuredMm`. */
export interface LengthCorrection {
  readonly measuredMm: number;
  readonly indicatedMm: number;
  /** Expanded uncertainty, k = 2. */
  readonly uncertaintyMm: number;
  readonly atMs: number;
  readonly who: string;
}
