import type { SectionView } from '../../server/api/contract.ts';

export type Order = 'worst' | 'metre';

const RANK: Record<SectionView['verdict'], number> = { discard: 0, doubtful: 1, good: 2 };

/** Worst first: by verdict, then by the volume beyond the limit, then by how far from nominal, then by length. */
export function ordered(sections: readonly SectionView[], order: Order, nominalMm: number): SectionView[] {
  const off = (s: SectionView) => (s.peakMm === null ? 0 : Math.abs(s.peakMm - nominalMm));
  const long = (s: SectionView) => s.toGaugeMm - s.fromGaugeMm;
  return [...sections].sort((a, b) =>
    order === 'metre'
      ? a.fromGaugeMm - b.fromGaugeMm
      : RANK[a.verdict] - RANK[b.verdict] ||
        (b.volumeBeyondMm3 ?? 0) - (a.volumeBeyondMm3 ?? 0) ||
        off(b) - off(a) ||
        long(b) - long(a),
  );
}

/** Only what lies on the spool, with its positions known. */
export type PlacedSection = SectionView & { readonly fromSpoolMm: number; readonly toSpoolMm: number };

export function placed(sections: readonly SectionView[]): PlacedSection[] {
  return sections.filter((s): s is PlacedSection => s.fromSpoolMm !== null && s.toSpoolMm !== null && s.toSpoolMm > 0);
}

/** The gravest section that covers a metre, and undefined where the strand is good. */
export function sectionAt(sections: readonly PlacedSection[], mm: number): PlacedSection | undefined {
  return sections
    .filter((s) => s.fromSpoolMm <= mm && mm <= s.toSpoolMm)
    .sort((a, b) => RANK[a.verdict] - RANK[b.verdict])[0];
}

/** The next section after (or the one before) a metre; undefined if there is none. */
export function neighbour(sections: readonly PlacedSection[], mm: number, forward: boolean): PlacedSection | undefined {
  const sorted = [...sections].sort((a, b) => a.fromSpoolMm - b.fromSpoolMm);
  return forward ? sorted.find((s) => s.fromSpoolMm > mm + 0.5) : sorted.findLast((s) => s.fromSpoolMm < mm - 0.5);
}
