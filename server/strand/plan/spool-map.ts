import type { CutRequest, PlanStretch } from './cut-request.ts';

/** What is known of a length of strand. */
export type Fate = 'good' | 'doubtful' | 'unknown' | 'discard';

/**
 * The spool seen from the rewinder: whole millimetres counted from the OUTER end, so that every sum is exact. Pieces
 * follow each other without a hole from 0 to `woundMm`.
 */
export interface SpoolMap {
  readonly woundMm: number;
  readonly parts: readonly {
    readonly fromMm: number;
    readonly toMm: number;
    readonly fate: Fate;
  }[];
  /** Stretches that must go, in the order in which they come off. */
  readonly badStretches: readonly BadStretch[];
}

/** A stretch that must go, from the outer end. */
export interface BadStretch {
  readonly fromMm: number;
  readonly toMm: number;
  /** End of the last part that can be found by eye or caliper; null when all of it was never measured. */
  readonly seenToMm: number | null;
  /** What to look for; null when there is nothing to see. */
  readonly landmark: Landmark | null;
}

export interface Landmark {
  readonly stretch: PlanStretch;
  readonly fromMm: number;
  readonly toMm: number;
  /** Where it is at its worst, or its middle. */
  readonly peakAtOuterMm: number;
}

const RANK: Record<Fate, number> = {
  good: 0,
  doubtful: 1,
  unknown: 2,
  discard: 3,
};

/** A stretch is widened to whole millimetres; where stretches overlap the worst counts, and what lies off the spool is cut off. */
export function mapSpool(request: CutRequest): SpoolMap {
  const woundMm = Math.round(request.woundMm);
  const placed = request.stretches
    .map((stretch) => {
      const fromMm = woundMm - Math.max(Math.ceil(stretch.toMm), Math.floor(stretch.fromMm) + 1);
      return {
        stretch,
        fromMm: Math.max(0, fromMm),
        toMm: Math.min(woundMm, woundMm - Math.floor(stretch.fromMm)),
      };
    })
    .filter(({ fromMm, toMm }) => fromMm < toMm)
    .sort((a, b) => a.fromMm - b.fromMm || a.toMm - b.toMm);

  // Asked of each stretch by itself: a kept stretch that was never measured does not save a bad one beneath it.
  const goes = (fate: PlanStretch['fate']): boolean => fate === 'discard' || request[fate] === 'cut';
  const edges = [...new Set([0, woundMm, ...placed.flatMap((p) => [p.fromMm, p.toMm])])].sort((a, b) => a - b);
  const parts: { fromMm: number; toMm: number; fate: Fate }[] = [];
  const badStretches: BadStretch[] = [];
  let active: typeof placed = [];
  let next = 0;
  for (let i = 0; i + 1 < edges.length; i++) {
    const fromMm = edges[i]!;
    const toMm = edges[i + 1]!;
    while (next < placed.length && placed[next]!.fromMm <= fromMm) active.push(placed[next++]!);
    active = active.filter((p) => p.toMm > fromMm);

    let fate: Fate = 'good';
    for (const { stretch } of active) if (RANK[stretch.fate] > RANK[fate]) fate = stretch.fate;
    const lastPart = parts[parts.length - 1];
    if (lastPart?.fate === fate) lastPart.toMm = toMm;
    else parts.push({ fromMm, toMm, fate });

    const going = active.filter(({ stretch }) => goes(stretch.fate));
    if (going.length === 0) continue;
    const seenToMm = going.some(({ stretch }) => stretch.fate !== 'unknown') ? toMm : null;
    const lastBad = badStretches[badStretches.length - 1];
    if (lastBad?.toMm === fromMm) {
      badStretches[badStretches.length - 1] = { ...lastBad, toMm, seenToMm: seenToMm ?? lastBad.seenToMm };
    } else {
      badStretches.push({ fromMm, toMm, seenToMm, landmark: null });
    }
  }
  let first = 0;
  const marked = badStretches.map((bad): BadStretch => {
    while (first < placed.length && placed[first]!.toMm <= bad.fromMm) first += 1;
    let landmark: Landmark | null = null;
    for (let i = first; i < placed.length && placed[i]!.fromMm < bad.toMm && landmark === null; i++) {
      const p = placed[i]!;
      if (p.toMm <= bad.fromMm || p.stretch.fate === 'unknown' || !goes(p.stretch.fate)) continue;
      const peakAt = p.stretch.peakAtMm;
      const inside = peakAt !== null && peakAt !== undefined && peakAt >= p.stretch.fromMm && peakAt <= p.stretch.toMm;
      const peakAtOuterMm = Math.round(inside ? woundMm - peakAt : (p.fromMm + p.toMm) / 2);
      landmark = {
        stretch: p.stretch,
        fromMm: p.fromMm,
        toMm: p.toMm,
        peakAtOuterMm,
      };
    }
    return { ...bad, landmark };
  });
  return { woundMm, parts, badStretches: marked };
}

/** Length of each fate between two places, mm. */
export function lengthsByFate(map: SpoolMap, fromMm: number, toMm: number): Record<Fate, number> {
  const lengths: Record<Fate, number> = { good: 0, doubtful: 0, unknown: 0, discard: 0 };
  for (const part of within(map.parts, fromMm, toMm)) {
    lengths[part.fate] += Math.min(toMm, part.toMm) - Math.max(fromMm, part.fromMm);
  }
  return lengths;
}

/** The stretches that must go and lie, at least in part, between two places. */
export function badStretchesBetween(map: SpoolMap, fromMm: number, toMm: number): readonly BadStretch[] {
  return within(map.badStretches, fromMm, toMm);
}

/** Length of the stretches that must go between two places, mm. */
export function badLength(map: SpoolMap, fromMm: number, toMm: number): number {
  let length = 0;
  for (const bad of badStretchesBetween(map, fromMm, toMm))
    length += Math.min(toMm, bad.toMm) - Math.max(fromMm, bad.fromMm);
  return length;
}

/** A bad night has thousands of stretches and as many pieces, so their overlaps are found by halving. */
function within<T extends { readonly fromMm: number; readonly toMm: number }>(
  sorted: readonly T[],
  fromMm: number,
  toMm: number,
): T[] {
  let low = 0;
  let high = sorted.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (sorted[middle]!.toMm <= fromMm) low = middle + 1;
    else high = middle;
  }
  let end = low;
  while (end < sorted.length && sorted[end]!.fromMm < toMm) end += 1;
  return sorted.slice(low, end);
}
