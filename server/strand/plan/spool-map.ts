import { firstIndex } from '../../probability/first-index.ts';
import type { SectionKind } from '../section.ts';
import type { PlaceRange } from './count-guard.ts';
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
  /** Everything that a user could see pass, to be cut out or not, in the order of unwinding. */
  readonly landmarks: readonly Landmark[];
}

/** A stretch to cut out; positions from the outer end. */
export interface BadStretch {
  readonly fromMm: number;
  readonly toMm: number;
}

/** A stretch that can be found by eye or finger while the strand is unwound; positions from the outer end. */
export interface Landmark {
  readonly stretch: PlanStretch;
  readonly fromMm: number;
  readonly toMm: number;
  /** Its peak, or its middle. */
  readonly peakAtOuterMm: number;
  /** How far from there a user may see it. */
  readonly spreadMm: number;
}

/** Strand that is a little out of tolerance, or changes slowly, shows no place at which to read the counter. */
const SEEN_KINDS: readonly (SectionKind | undefined)[] = ['blob', 'neck', 'strandLost', 'marked'];
/** A longer stretch has no such place either. Common practice, no source. */
const LANDMARK_MAX_MM = 500;

const RANK: Record<Fate, number> = {
  good: 0,
  doubtful: 1,
  unknown: 2,
  discard: 3,
};

/** A stretch, widened to whole millimetres and clipped to the spool. */
export function fromOuterEnd(woundMm: number, { fromMm, toMm }: PlanStretch): BadStretch {
  return {
    fromMm: Math.max(0, woundMm - Math.max(Math.ceil(toMm), Math.floor(fromMm) + 1)),
    toMm: Math.min(woundMm, woundMm - Math.floor(fromMm)),
  };
}

/** Where stretches overlap, the worst counts. */
export function mapSpool(request: CutRequest): SpoolMap {
  const woundMm = Math.round(request.woundMm);
  const placed = request.stretches
    .map((stretch) => ({ stretch, ...fromOuterEnd(woundMm, stretch) }))
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

    if (!active.some(({ stretch }) => isBad(stretch.fate))) continue;
    const lastBad = badStretches.at(-1);
    if (lastBad?.toMm === fromMm) badStretches[badStretches.length - 1] = { ...lastBad, toMm };
    else badStretches.push({ fromMm, toMm });
  }
  const landmarks = placed.flatMap((p) => landmarkOf(woundMm, p) ?? []);
  landmarks.sort((a, b) => a.peakAtOuterMm - b.peakAtOuterMm);
  return { woundMm, parts, badStretches, landmarks };
}

function landmarkOf(woundMm: number, placed: Pick<Landmark, 'stretch' | 'fromMm' | 'toMm'>): Landmark | null {
  const { fate, kind, peakAtMm, fromMm, toMm } = placed.stretch;
  if (fate === 'unknown' || !SEEN_KINDS.includes(kind) || toMm - fromMm > LANDMARK_MAX_MM) return null;
  const peaked = peakAtMm !== null && peakAtMm !== undefined && peakAtMm >= fromMm && peakAtMm <= toMm;
  return {
    ...placed,
    peakAtOuterMm: Math.round(peaked ? woundMm - peakAtMm : (placed.fromMm + placed.toMm) / 2),
    spreadMm: peaked ? 0 : (placed.toMm - placed.fromMm) / 2,
  };
}

/** The landmarks whose peak is between two positions, both included. */
export function landmarksBetween({ landmarks }: SpoolMap, fromMm: number, toMm: number): readonly Landmark[] {
  return landmarks.slice(...indicesBetween(landmarks, fromMm, toMm));
}

/** The landmarks of which a user may see some part between two positions, both included. */
export function landmarksSeenBetween(map: SpoolMap, fromMm: number, toMm: number): readonly Landmark[] {
  return landmarksBetween(map, fromMm - LANDMARK_MAX_MM, toMm + LANDMARK_MAX_MM).filter((landmark) =>
    isSeenBetween(landmark, fromMm, toMm),
  );
}

/**
 * The strand on which the landmarks of `landmarksSeenBetween` are seen; null = there are none. Asked for each landmark, of
 * which thousands may be in between, so only those near either end are looked at.
 */
export function rangeSeenBetween({ landmarks }: SpoolMap, fromMm: number, toMm: number): PlaceRange | null {
  const [start, end] = indicesBetween(landmarks, fromMm - LANDMARK_MAX_MM, toMm + LANDMARK_MAX_MM);
  let leastMm = Number.POSITIVE_INFINITY;
  for (let i = start; i < end; i++) {
    const landmark = landmarks[i]!;
    if (landmark.peakAtOuterMm - LANDMARK_MAX_MM >= leastMm) break;
    if (isSeenBetween(landmark, fromMm, toMm)) leastMm = Math.min(leastMm, landmark.peakAtOuterMm - landmark.spreadMm);
  }
  let mostMm = Number.NEGATIVE_INFINITY;
  for (let i = end - 1; i >= start; i--) {
    const landmark = landmarks[i]!;
    if (landmark.peakAtOuterMm + LANDMARK_MAX_MM <= mostMm) break;
    if (isSeenBetween(landmark, fromMm, toMm)) mostMm = Math.max(mostMm, landmark.peakAtOuterMm + landmark.spreadMm);
  }
  return leastMm <= mostMm ? { leastMm, mostMm } : null;
}

/** Of the landmarks whose peak is between two positions: the first index, and the one behind the last. */
function indicesBetween(landmarks: readonly Landmark[], fromMm: number, toMm: number): [number, number] {
  return indices(
    landmarks,
    ({ peakAtOuterMm }) => peakAtOuterMm >= fromMm,
    ({ peakAtOuterMm }) => peakAtOuterMm > toMm,
  );
}

function isSeenBetween({ peakAtOuterMm, spreadMm }: Landmark, fromMm: number, toMm: number): boolean {
  return peakAtOuterMm + spreadMm >= fromMm && peakAtOuterMm - spreadMm <= toMm;
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

function within<T extends BadStretch>(sorted: readonly T[], fromMm: number, toMm: number): T[] {
  const [start, end] = indices(
    sorted,
    (one) => one.toMm > fromMm,
    (one) => one.fromMm >= toMm,
  );
  return sorted.slice(start, end);
}

/** A bad night has thousands of stretches and as many pieces, so those between two positions are found by bisection. */
function indices<T>(
  sorted: readonly T[],
  hasStarted: (one: T) => boolean,
  isBehind: (one: T) => boolean,
): [number, number] {
  const start = firstIndex(0, sorted.length, (i) => hasStarted(sorted[i]!));
  return [start, firstIndex(start, sorted.length, (i) => isBehind(sorted[i]!))];
}
