import type { Section } from './section.ts';

/** Lengths in mm; the first four add up to the whole stretch. */
export interface SpoolTotals {
  readonly discardMm: number;
  readonly doubtfulMm: number;
  readonly unknownMm: number;
  readonly goodMm: number;
  /** The longest piece without strand to discard, in doubt or unknown. */
  readonly longestCleanMm: number;
}

/** Discard, unknown, doubtful: where sections overlap, the lowest rank counts. */
type Rank = 0 | 1 | 2;

function rankOf(section: Section): Rank | null {
  if (section.verdict === 'discard') return 0;
  if (section.verdict === 'good') return null;
  return section.kind === 'unknown' ? 1 : 2;
}

interface Edge {
  readonly atMm: number;
  readonly rank: Rank;
  readonly step: 1 | -1;
}

/**
 * Totals of the stretch from `fromMm` to `toMm` (gauge lengths). Overlapping sections count once. A section without length,
 * such as strand that broke while standing still, adds nothing but ends a clean piece.
 */
export function spoolTotals(sections: readonly Section[], fromMm: number, toMm: number): SpoolTotals {
  if (!(toMm > fromMm))
    return {
      discardMm: 0,
      doubtfulMm: 0,
      unknownMm: 0,
      goodMm: 0,
      longestCleanMm: 0,
    };
  const edges: Edge[] = [];
  for (const section of sections) {
    const rank = rankOf(section);
    if (rank === null || section.toMm < fromMm || section.fromMm > toMm) continue;
    edges.push(
      { atMm: Math.max(section.fromMm, fromMm), rank, step: 1 },
      { atMm: Math.min(section.toMm, toMm), rank, step: -1 },
    );
  }
  edges.sort((a, b) => a.atMm - b.atMm || b.step - a.step);

  const depth: [number, number, number] = [0, 0, 0];
  const sum: [number, number, number] = [0, 0, 0];
  let good = 0;
  let longestClean = 0;
  let at = fromMm;
  for (const edge of edges) {
    const length = edge.atMm - at;
    if (depth[0] > 0) sum[0] += length;
    else if (depth[1] > 0) sum[1] += length;
    else if (depth[2] > 0) sum[2] += length;
    else {
      good += length;
      longestClean = Math.max(longestClean, length);
    }
    depth[edge.rank] += edge.step;
    at = edge.atMm;
  }
  const remaining = Math.max(0, toMm - at);
  return {
    discardMm: sum[0],
    unknownMm: sum[1],
    doubtfulMm: sum[2],
    goodMm: good + remaining,
    longestCleanMm: Math.max(longestClean, remaining),
  };
}
