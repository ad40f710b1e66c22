import type { MeasuredSection, SectionPlace, StatedSection } from '../../strand/section.ts';

/** What a statement under a section id refers to. */
export interface SectionTarget {
  /** Ordinal of the recorded section; null = marked by a user, or not recorded. */
  readonly ordinal: number | null;
  /** A section, or part of one, that appears only with the limits of the chosen printer. */
  readonly about: SectionPlace | null;
  /** The statement that counts now; a new one replaces it. */
  readonly statement: Pick<StatedSection, 'id'> | null;
  /** As measured or first marked; null = no longer known. */
  readonly original: Pick<StatedSection, 'fromMm' | 'toMm' | 'verdict' | 'note'> | null;
  /** When its end passed the gauge, UTC ms; 0 = irrelevant. */
  readonly passedMs: number;
}

/**
 * The id of a section that is not in the record, from where it starts (`j12345` = gauge length in 0.1 mm), so that it stays
 * the same in later judgements.
 */
export function shownId(foundFromMm: number): string {
  return `j${Math.round(foundFromMm * 10)}`;
}

/** @param shown the section as found with the limits of the chosen printer */
export function recordedTarget(
  recorded: MeasuredSection,
  statement: SectionTarget['statement'],
  shown: MeasuredSection = recorded,
): SectionTarget {
  const passed = Math.max(passedMs(recorded), passedMs(shown));
  return { ordinal: recorded.ordinal, about: null, statement, original: asFound(recorded), passedMs: passed };
}

/** @param statement the statement about it, unless it also applies to other sections */
export function shownTarget(section: MeasuredSection, statement: StatedSection | null): SectionTarget {
  const { kind, fromMm, toMm } = section;
  const about = statement?.about ?? { kind, fromMm, toMm };
  return { ordinal: null, about, statement, original: asFound(section), passedMs: passedMs(section) };
}

/** @param statement the newest statement about what `original` marked */
export function markedTarget(original: StatedSection, statement: SectionTarget['statement'] = original): SectionTarget {
  return { ordinal: null, about: original.about, statement, original, passedMs: 0 };
}

function asFound({ fromMm, toMm, verdict }: MeasuredSection): SectionTarget['original'] {
  return { fromMm, toMm, verdict, note: '' };
}

function passedMs({ open, toTimeMs }: MeasuredSection): number {
  return open ? 0 : toTimeMs;
}
