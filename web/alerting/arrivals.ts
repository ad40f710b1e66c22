import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';
import { sectionName } from '../format/names.ts';

export interface Arrival {
  readonly id: string;
  readonly kind: 'blob' | 'neck';
  /** “Blob”, “Possible blob”, “Thin spot”. */
  readonly name: string;
  readonly sure: boolean;
  /** Until its start reaches the winder. */
  readonly inS: number;
}

/** Blobs and thin spots between gauge and winder, the next to arrive first. */
export function arrivals(sections: readonly SectionView[]): readonly Arrival[] {
  return sections
    .flatMap((section): Arrival[] => {
      const { id, kind, certainty, verdict, reachesWinderInS } = section;
      if ((kind !== 'blob' && kind !== 'neck') || !isOpenQuestion(section)) return [];
      if (reachesWinderInS === null || reachesWinderInS <= 0) return [];
      const name = sectionName(section);
      return [{ id, kind, name, sure: certainty === 'sure' || verdict === 'discard', inS: reachesWinderInS }];
    })
    .sort((a, b) => a.inS - b.inS);
}

/** How long after it has passed the winder a blob can still be stated to have been cut out. */
const ASKED_FOR_MS = 600_000;

/**
 * Blobs and thin spots about which someone can say what was done: those between gauge and winder, the next to arrive first,
 * then those that passed the winder in the last minutes, the latest first.
 */
export function undecided({ spool, sections, now, limits }: LiveState): readonly SectionView[] {
  if (spool === null) return [];
  const winderMm = now.gaugeMm - limits.gaugeToWinderMm;
  const asked = sections.filter(
    (section) =>
      (section.kind === 'blob' || section.kind === 'neck') &&
      isOpenQuestion(section) &&
      section.spoolId !== null &&
      (section.toGaugeMm > winderMm || (now.timeMs ?? 0) - (section.toTimeMs ?? 0) < ASKED_FOR_MS),
  );
  const isPast = ({ fromGaugeMm }: SectionView) => fromGaugeMm <= winderMm;
  return asked.sort((a, b) =>
    isPast(a) || isPast(b)
      ? Number(isPast(a)) - Number(isPast(b)) || b.fromGaugeMm - a.fromGaugeMm
      : a.fromGaugeMm - b.fromGaugeMm,
  );
}

/** Neither accepted as good nor left on the spool. */
function isOpenQuestion({ verdict, decision }: SectionView): boolean {
  return verdict !== 'good' && decision === null;
}
