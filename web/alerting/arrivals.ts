import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';

export interface Arrival {
  readonly id: string;
  readonly kind: 'blob' | 'neck';
  readonly sure: boolean;
  /** Until its start reaches the winder. */
  readonly inS: number;
}

/** Blobs and thin spots between gauge and winder, the next to arrive first. */
export function arrivals(sections: readonly SectionView[]): readonly Arrival[] {
  return sections
    .flatMap(({ id, kind, certainty, verdict, reachesWinderInS }): Arrival[] => {
      if ((kind !== 'blob' && kind !== 'neck') || verdict === 'good') return [];
      if (reachesWinderInS === null || reachesWinderInS <= 0) return [];
      return [{ id, kind, sure: certainty === 'sure' || verdict === 'discard', inS: reachesWinderInS }];
    })
    .sort((a, b) => a.inS - b.inS);
}
