import type { MeasuredSection, SectionPlace, StatedSection } from '../../strand/section.ts';

/** What a statement made under a section id is about. */
export interface SectionTarget {
  /** Ordinal of the recorded section; null = it is marked, or not recorded. */
  readonly ordinal: number | null;
  /** A section, or a part of one, that only the limits of the chosen printer show. */
  readonly about: SectionPlace | null;
  /** The statement that counts now; a new one replaces it. */
  readonly statement: Pick<StatedSection, 'id'> | null;
  /** What it was before anyone changed it; null = it is not there any more. */
  readonly original: Pick<StatedSection, 'fromMm' | 'toMm' | 'verdict' | 'note'> | null;
  /** When it had passed the gauge, UTC ms; 0 = long ago. */
  readonly passedMs: number;
}

/**
 * The id of a section that is not in the record: by its place (`j12345` = the gauge length where it was found to begin, in
 * 0.1 mm), so that it means the same section in a later answer.
 */
export function shownId(foundFromMm: number): string {
  return `j${Math.round(foundFromMm * 10)}`;
}

/** @param shown the section as the limits of the chosen printer show it */
export function recordedTarget(
  recorded: MeasuredSection,
  statement: SectionTarget['statement'],
  shown: MeasuredSection = recorded,
): SectionTarget {
  const passed = Math.max(passedMs(recorded), passedMs(shown));
  return { ordinal: recorded.ordinal, about: null, statement, original: asFound(recorded), passedMs: passed };
}

/** @param statement the statement about it, unless that is also about other sections */
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
