import type { Section } from './section.ts';

/** Lengths in mm; the first four add up to the whole stretch. */
export interface SpoolTotals {
  readonly discardMm: number;
  readonly doubtfulMm: number;
  readonly unknownMm: number;
  readonly goodMm: number;
  /** The longest piece without anything to discard, in doubt or unknown. */
  readonly longestCleanMm: number;
}

/** Where sections overlap, the first of these counts. */
const RANKS = ['discard', 'unknown', 'doubtful'] as const;
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
 * How much of the stretch from `fromMm` to `toMm` (gauge lengths) is what, by the union of its sections. A section
 * without length, such as a strand that broke while it stood, counts nothing but ends a clean piece.
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
  const sum = [0, 0, 0];
  let good = 0;
  let longestClean = 0;
  let at = fromMm;
  for (const edge of edges) {
    const rank = depth.findIndex((n) => n > 0);
    const length = edge.atMm - at;
    if (rank === -1) {
      good += length;
      longestClean = Math.max(longestClean, length);
    } else sum[rank] = (sum[rank] as number) + length;
    depth[edge.rank] += edge.step;
    at = edge.atMm;
  }
  const rest = Math.max(0, toMm - at);
  return {
    discardMm: sum[RANKS.indexOf('discard')] as number,
    unknownMm: sum[RANKS.indexOf('unknown')] as number,
    doubtfulMm: sum[RANKS.indexOf('doubtful')] as number,
    goodMm: good + rest,
    longestCleanMm: Math.max(longestClean, rest),
  };
}
