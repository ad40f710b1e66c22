/**
 * What kind of stretch a section is. `unknown` = not measured; `marked` = marked by a user; `joint` = where a user cut out
 * strand before it was wound and joined the ends.
 */
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
  'joint',
] as const;
/** Kinds that only users state. */
const STATED_KINDS = ['marked', 'joint'] as const;

export type SectionKind = (typeof SECTION_KINDS)[number];
export type MeasuredKind = Exclude<SectionKind, (typeof STATED_KINDS)[number]>;
export const MEASURED_KINDS = SECTION_KINDS.filter((kind): kind is MeasuredKind =>
  STATED_KINDS.every((stated) => stated !== kind),
);

/** What to do with a stretch. Strand outside all sections is good. */
export const VERDICTS = ['good', 'doubtful', 'discard'] as const;
export type Verdict = (typeof VERDICTS)[number];

/** What a user did about a blob or thin spot on its way to the winder: cut it out and joined the ends, or left it on the spool. */
export const DECISIONS = ['cutOut', 'left'] as const;
export type Decision = (typeof DECISIONS)[number];

/**
 * Why a section is in doubt. `nearLimit`: beyond it or not, the gauge cannot tell; `oneReading`, `fewReadings`: strand or
 * a wrong reading; `gaugeShifted`: its whole trace jumped before; `axesDisagree`: the two axes have disagreed for long.
 * Strand counts as not measured after a shift, and where the gauge cannot show a blob, because its range ends too low
 * (`gaugeBlind`) or it is too noisy (`gaugeNoisy`).
 */
export const DOUBTS = [
  'nearLimit',
  'oneReading',
  'fewReadings',
  'gaugeShifted',
  'axesDisagree',
  'gaugeBlind',
  'gaugeNoisy',
] as const;
export type Doubt = (typeof DOUBTS)[number];
/** Why all readings may be off. */
export type ShiftDoubt = Extract<Doubt, 'gaugeShifted' | 'axesDisagree'>;

/**
 * A section found by the detector. Positions are gauge lengths: millimetres of strand that have passed the gauge since
 * the run started. Subtract the start of a spool to get positions on it.
 */
export interface MeasuredSection {
  /** Number within the run, from 1 in order of opening. */
  readonly ordinal: number;
  readonly kind: MeasuredKind;
  readonly fromMm: number;
  readonly toMm: number;
  readonly fromTimeMs: number;
  readonly toTimeMs: number;
  /** Diameter furthest beyond the limit, mm; null where none was measured. */
  readonly peakMm: number | null;
  /** Gauge length of the peak. */
  readonly peakAtMm: number | null;
  /** Volume above the limit, or missing below it, mm³; null where it has no meaning. */
  readonly volumeBeyondMm3: number | null;
  /** `sure`: beyond the limit by more than the gauge's uncertainty (decision rule of ISO 14253-1). */
  readonly certainty: 'sure' | 'inDoubt';
  /** Only of one in doubt, and not known of those recorded by versions before 3 of the detector. */
  readonly doubt?: Doubt;
  readonly verdict: Verdict;
  /** Still growing: the strand in the gauge belongs to it. */
  readonly open: boolean;
}

/** A user's statement about a stretch. Analysis never overwrites it; a later statement about the same target replaces it. */
export interface StatedSection {
  readonly id: number;
  /** Ordinal of the measured section that it is about; null = a stretch that the user marked. */
  readonly measuredOrdinal: number | null;
  readonly fromMm: number;
  readonly toMm: number;
  readonly verdict: Verdict;
  readonly note: string;
  /** The user dismissed the measured section, or deleted the marked one. */
  readonly removed: boolean;
  readonly atTimeMs: number;
  /** The section that it is about, where that one is not stored: it was found with the limits of another printer. */
  readonly about: SectionPlace | null;
  /** `cutOut`: this strand was never wound. */
  readonly decision?: Decision;
  /** Who stated it; not known of statements by older versions. */
  readonly who?: string;
}

/** A section by its kind and place; gauge lengths, mm. */
export interface SectionPlace {
  readonly kind: MeasuredSection['kind'];
  readonly fromMm: number;
  readonly toMm: number;
}

/** A section as users see it: measured, with users' statements applied. */
export interface Section {
  /** `m12` = measured, with ordinal 12; `p5` = marked by a user, with statement id 5. */
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
  readonly doubt?: Doubt;
  readonly verdict: Verdict;
  readonly note: string;
  readonly origin: 'measured' | 'adjusted' | 'user';
  readonly open: boolean;
  readonly decision?: Decision;
}

/** A number that none of these sections has. */
export function nextOrdinal(sections: readonly Pick<MeasuredSection, 'ordinal'>[]): number {
  return sections.reduce((most, { ordinal }) => Math.max(most, ordinal), 0) + 1;
}
