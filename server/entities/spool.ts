/**
 * What is wound between two spool changes. `startGaugeMm` is the gauge length of the strand that lies innermost: a point
 * with gauge length g lies at spool position g − startGaugeMm. `endGaugeMm` is where its outer end was when it was taken
 * off; null while it is being wound.
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
}

/** How a spool is judged and cut, as chosen for it. */
export interface SpoolChoices {
  /** 0 = the line's own limits. */
  readonly printerId: number;
  readonly objective: 'mostLength' | 'fewestCuts';
  /** Shortest coil worth keeping; null = as set for the line. */
  readonly shortestMm: number | null;
  readonly doubtful: 'keep' | 'cut';
  readonly unknown: 'keep' | 'cut';
}

/** A step that was done at the rewinder; lengths in mm, counted since the cut before. */
export interface KeptCut {
  readonly id: number;
  readonly action: 'keep' | 'discard';
  readonly countedMm: number;
  readonly landmarkCountedMm: number | null;
  readonly reachedEnd: boolean;
  readonly atMs: number;
  readonly who: string;
  /**
   * Where the piece lies on the strand, by gauge length, and where the count was last surely known before and after it
   * was cut off; null = ticked off before places were kept: it follows from the counts.
   */
  readonly place: {
    readonly fromGaugeMm: number;
    readonly toGaugeMm: number;
    readonly knownToGaugeMm: number;
    readonly knownAfterGaugeMm: number;
    /** True mm a mm of gauge length, as they were taken to be then: the counts were true ones. */
    readonly lengthFactor: number;
  } | null;
}

/** A name as a user gave it to a coil; empty = taken away. */
export interface GivenCoilName {
  readonly id: number;
  /** In the order in which coils came off in the plan of then, from 1. */
  readonly coil: number;
  readonly name: string;
  /** The strand of the coil; null = named before places were kept, and not looked up yet. */
  readonly place: { readonly fromGaugeMm: number; readonly toGaugeMm: number } | null;
}

/** A tape measurement of strand of a spool: `measuredMm` by tape of what the line counted as `indicatedMm`. */
export interface LengthCorrection {
  readonly measuredMm: number;
  readonly indicatedMm: number;
  /** k = 2. */
  readonly uncertaintyMm: number;
  readonly atMs: number;
  readonly who: string;
}
