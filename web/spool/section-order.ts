import type { SectionView } from '../../server/api/contract/runs-and-spools.ts';

export type Order = 'worst' | 'metre';

const RANK: Record<SectionView['verdict'], number> = { discard: 0, doubtful: 1, good: 2 };

/**
 * Rank by harm to a print: first a blob that surely jams, then strand that is missing or not measured, then what may jam or
 * starve the printer, then what only looks bad. 0 = worst.
 */
function harmRank({ kind, verdict }: SectionView): number {
  if (verdict === 'good') return 9;
  const sure = verdict === 'discard';
  if (kind === 'blob') return sure ? 0 : 2;
  if (kind === 'strandLost' || kind === 'unknown' || (kind === 'marked' && sure)) return 1;
  if (kind === 'neck') return sure ? 3 : 4;
  return sure ? 5 : 6;
}

/** Worst first: by harm to a print, then by deviation in mm, then by length. */
export function ordered(sections: readonly SectionView[], order: Order, nominalMm: number): SectionView[] {
  // Missing strand is ranked by length alone, whatever the gauge reported.
  const off = (s: SectionView) => (s.peakMm === null || harmRank(s) === 1 ? 0 : Math.abs(s.peakMm - nominalMm));
  const long = (s: SectionView) => s.toGaugeMm - s.fromGaugeMm;
  return [...sections].sort((a, b) =>
    order === 'metre'
      ? a.fromGaugeMm - b.fromGaugeMm
      : harmRank(a) - harmRank(b) || off(b) - off(a) || long(b) - long(a),
  );
}

/** Sections on the spool whose positions are known. */
export type PlacedSection = SectionView & { readonly fromSpoolMm: number; readonly toSpoolMm: number };

export function placed(sections: readonly SectionView[]): PlacedSection[] {
  return sections.filter((s): s is PlacedSection => s.fromSpoolMm !== null && s.toSpoolMm !== null && s.toSpoolMm > 0);
}

/** Sections in the order in which they come off the spool: the last metre wound comes off first. */
export function outerFirst(sections: readonly PlacedSection[]): PlacedSection[] {
  return [...sections].sort((a, b) => b.toSpoolMm - a.toSpoolMm);
}

/** Neighbours that are listed as one: alike in all but place and diameter, and so near that one cut takes them all. */
export interface AlikeSections extends PlacedSection {
  readonly places: number;
}

/** No coil is kept between places as near as this. Common practice, no source. */
const ONE_CUT_MM = 1000;

/** Sections in the order in which they come off, those that are alike and near gathered; each with the diameter furthest off. */
export function gathered(sections: readonly PlacedSection[], nominalMm: number): AlikeSections[] {
  const rows: AlikeSections[] = [];
  const offMm = ({ peakMm }: SectionView) => Math.abs((peakMm ?? nominalMm) - nominalMm);
  for (const next of outerFirst(sections)) {
    const last = rows.at(-1);
    const isAlike =
      last !== undefined &&
      (['kind', 'verdict', 'certainty', 'doubt', 'decision', 'origin'] as const).every(
        (key) => last[key] === next[key],
      ) &&
      last.note === '' &&
      next.note === '' &&
      last.fromSpoolMm - next.toSpoolMm <= ONE_CUT_MM;
    if (!isAlike) rows.push({ ...next, places: 1 });
    else
      rows[rows.length - 1] = {
        ...last,
        fromSpoolMm: Math.min(last.fromSpoolMm, next.fromSpoolMm),
        peakMm: offMm(next) > offMm(last) ? next.peakMm : last.peakMm,
        places: last.places + 1,
      };
  }
  return rows;
}

/** The worst section at a position; undefined where the strand is good. */
export function sectionAt(sections: readonly PlacedSection[], mm: number): PlacedSection | undefined {
  return sections
    .filter((s) => s.fromSpoolMm <= mm && mm <= s.toSpoolMm)
    .sort((a, b) => RANK[a.verdict] - RANK[b.verdict])[0];
}

/** The next section after, or the last one before, a position; undefined if there is none. */
export function neighbour(sections: readonly PlacedSection[], mm: number, forward: boolean): PlacedSection | undefined {
  const sorted = [...sections].sort((a, b) => a.fromSpoolMm - b.fromSpoolMm);
  return forward ? sorted.find((s) => s.fromSpoolMm > mm + 0.5) : sorted.findLast((s) => s.fromSpoolMm < mm - 0.5);
}
