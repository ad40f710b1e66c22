import type { CutRequest, PlanStretch } from './cut-request.ts';

/** What is known about a length of strand. */
export type Fate = 'good' | 'doubtful' | 'unknown' | 'discard';

/**
 * The spool as seen from the rewinder: in whole millimetres from the OUTER end, so that sums are exact. Its parts cover 0 to
 * `woundMm` without gaps.
 */
export interface SpoolMap {
  readonly woundMm: number;
  readonly parts: readonly {
    readonly fromMm: number;
    readonly toMm: number;
    readonly fate: Fate;
  }[];
  /** Stretches to cut out, in the order of unwinding. */
  readonly badStretches: readonly BadStretch[];
}

/** A stretch to cut out; positions from the outer end. */
export interface BadStretch {
  readonly fromMm: number;
  readonly toMm: number;
  /** End of the last part that can be found by eye or caliper; null if none of it was measured. */
  readonly seenToMm: number | null;
  /** What to look for; null if there is nothing to see. */
  readonly landmark: Landmark | null;
}

export interface Landmark {
  readonly stretch: PlanStretch;
  readonly fromMm: number;
  readonly toMm: number;
  /** Its peak, or its middle. */
  readonly peakAtOuterMm: number;
}

const RANK: Record<Fate, number> = {
  good: 0,
  doubtful: 1,
  unknown: 2,
  discard: 3,
};

/** Stretches are widened to whole millimetres and clipped to the spool; where they overlap, the worst counts. */
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

  // Decided for each stretch separately: a kept unmeasured stretch does not save a bad one under it.
  const isBad = (fate: PlanStretch['fate']): boolean => fate === 'discard' || request[fate] === 'cut';
  const edges = [...new Set([0, woundMm, ...placed.flatMap((p) => [p.fromMm, p.toMm])])].sort((a, b) => a - b);
  const parts: { fromMm: number; toMm: number; fate: Fate }[] = [];
  const badStretches: BadStretch[] = [];
  let active: typeof placed = [];
  let next = 0;
  for (const [i, fromMm] of edges.entries()) {
    const toMm = edges[i + 1];
    if (toMm === undefined) break;
    for (let p = placed[next]; p !== undefined && p.fromMm <= fromMm; p = placed[++next]) active.push(p);
    active = active.filter((p) => p.toMm > fromMm);

    let fate: Fate = 'good';
    for (const { stretch } of active) if (RANK[stretch.fate] > RANK[fate]) fate = stretch.fate;
    const lastPart = parts.at(-1);
    if (lastPart?.fate === fate) lastPart.toMm = toMm;
    else parts.push({ fromMm, toMm, fate });

    const going = active.filter(({ stretch }) => isBad(stretch.fate));
    if (going.length === 0) continue;
    const seenToMm = going.some(({ stretch }) => stretch.fate !== 'unknown') ? toMm : null;
    const lastBad = badStretches.at(-1);
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
      if (p.toMm <= bad.fromMm || p.stretch.fate === 'unknown' || !isBad(p.stretch.fate)) continue;
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

/** Length of each fate between two positions, mm. */
export function lengthsByFate(map: SpoolMap, fromMm: number, toMm: number): Record<Fate, number> {
  const lengths: Record<Fate, number> = { good: 0, doubtful: 0, unknown: 0, discard: 0 };
  for (const part of within(map.parts, fromMm, toMm)) {
    lengths[part.fate] += Math.min(toMm, part.toMm) - Math.max(fromMm, part.fromMm);
  }
  return lengths;
}

/** The stretches to cut out that lie at least partly between two positions. */
export function badStretchesBetween(map: SpoolMap, fromMm: number, toMm: number): readonly BadStretch[] {
  return within(map.badStretches, fromMm, toMm);
}

/** Length of the stretches to cut out between two positions, mm. */
export function badLength(map: SpoolMap, fromMm: number, toMm: number): number {
  let length = 0;
  for (const bad of badStretchesBetween(map, fromMm, toMm))
    length += Math.min(toMm, bad.toMm) - Math.max(fromMm, bad.fromMm);
  return length;
}

/** A bad night has thousands of stretches and as many pieces, so overlaps are found by bisection. */
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
