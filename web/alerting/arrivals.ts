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
      if ((kind !== 'blob' && kind !== 'neck') || verdict === 'good') return [];
      if (reachesWinderInS === null || reachesWinderInS <= 0) return [];
      const name = sectionName(section);
      return [{ id, kind, name, sure: certainty === 'sure' || verdict === 'discard', inS: reachesWinderInS }];
    })
    .sort((a, b) => a.inS - b.inS);
}
