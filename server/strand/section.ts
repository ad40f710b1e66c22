/** What kind of stretch a section is. `unknown` = nothing was measured there; `marked` = a person marked it. */
export const SECTION_KINDS = [
  'blob',
  'neck',
  'offTolerance',
  'outOfRound',
  'drift',
  'surging',
  'strandLost',
  'unknown',
  'marked',
] as const;
export type SectionKind = (typeof SECTION_KINDS)[number];

/** What to do with a stretch. What no section covers is good. */
export const VERDICTS = ['good', 'doubtful', 'discard'] as const;
export type Verdict = (typeof VERDICTS)[number];

/**
 * A stretch as the detector found it. Lengths are gauge lengths: millimetres of strand that passed the gauge since the
 * run began; the spool subtracts its own start.
 */
export interface MeasuredSection {
  /** Number within the run, from 1 in order of opening. */
  readonly ordinal: number;
  readonly kind: Exclude<SectionKind, 'marked'>;
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromTimeMs: number;
  readonly toTimeMs: number;
  /** Diameter furthest beyond the limit, mm; null where none was measured (unknown). */
  readonly peakMm: number | null;
  /** Gauge length of the peak. */
  readonly peakAtMm: number | null;
  /** Volume of strand beyond the limit (above it or missing below it), mm³; null where it has no meaning. */
  readonly volumeBeyondMm3: number | null;
  /** Beyond the limit even at the near edge of the gauge's uncertainty, or not (decision rule of ISO 14253-1). */
  readonly certainty: 'sure' | 'inDoubt';
  readonly verdict: Verdict;
  /** Still growing: the strand at the gauge belongs to it. */
  readonly open: boolean;
}

/** A person's word about a stretch. It is never overwritten by a re-analysis; a later word of the same target replaces it. */
export interface StatedSection {
  readonly id: number;
  /** Ordinal of the measured section it speaks of; null = a stretch that the person marked. */
  readonly measuredOrdinal: number | null;
  readonly fromMm: number;
  readonly toMm: number;
  readonly verdict: Verdict;
  readonly note: string;
  /** The person took it away: a measured section is dismissed, a marked one removed. */
  readonly removed: boolean;
  readonly atTimeMs: number;
  /** The section that it speaks of where that is not recorded: it was found by the limits of another printer. */
  readonly about: SectionPlace | null;
}

/** A section by its kind and place; gauge lengths, mm. */
export interface SectionPlace {
  readonly kind: MeasuredSection['kind'];
  readonly fromMm: number;
  readonly toMm: number;
}

/** A section as everybody sees it: measured, corrected by what a person stated. */
export interface Section {
  /** `m12` = measured with ordinal 12, `p5` = marked by a person, stated id 5. */
  readonly id: string;
  readonly kind: SectionKind;
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromTimeMs: number | null;
  readonly toTimeMs: number | null;
  readonly peakMm: number | null;
  readonly peakAtMm: number | null;
  readonly volumeBeyondMm3: number | null;
  readonly certainty: 'sure' | 'inDoubt';
  readonly verdict: Verdict;
  readonly note: string;
  readonly origin: 'measured' | 'adjusted' | 'user';
  readonly open: boolean;
}
