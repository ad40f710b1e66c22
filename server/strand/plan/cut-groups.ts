import type { Anchor, CountGuard } from './count-guard.ts';
import { type BadStretch, type Landmark, landmarksBetween, rangeSeenBetween, type SpoolMap } from './spool-map.ts';

/** The strand still on the spool. Positions in mm from the outer end. */
export interface Remainder {
  /** Where the last cut fell by the count, or 0: whole mm. */
  readonly cutMm: number;
  /** Where it surely fell. */
  readonly cutLeastMm: number;
  readonly cutMostMm: number;
  readonly endMm: number;
  /** Stretches to cut out, in order and separate. The first may start before `cutMm`. */
  readonly badStretches: readonly BadStretch[];
}

export interface Piece {
  readonly keep: boolean;
  readonly fromMm: number;
  readonly toMm: number;
}

/** A way to divide the rest of a spool: the last stretch of each group, and whether a coil is kept before and after them. */
export interface Division {
  readonly head: boolean;
  readonly lasts: readonly number[];
  readonly tail: boolean;
}

/** From here on, as many counts are assumed as there can have been at most. */
const COUNTS_EXACT = 9;
/** With more groups than this, the most that is possible is assumed from the first count on, so that planning stays fast. */
const GROUPS_EXACT = 200;

/**
 * The ways to divide the rest of a spool. Bad stretches i..j that are cut out in one piece form a group. The coil before it
 * ends where a cut surely falls before i; the one after it starts where a cut surely falls after j. Both follow from the
 * last landmark that passed, and from the number of counts since then. So a way to divide is a path: each step goes from the
 * state before stretch i to the state before stretch j + 1.
 *
 * It is assumed that the user confirms the last landmark of each group, or none at all: the error then grows from cut to cut.
 */
export class CutGroups {
  readonly count: number;
  readonly remainder: Remainder;
  readonly shortestMm: number;
  readonly #guard: CountGuard;
  readonly #bad: readonly BadStretch[];
  /** By stretch: the anchor that counts before it, and whether it is the outer end. */
  readonly #anchors: readonly Anchor[];
  /** By stretch: the index of the stretch in which that anchor is; −1 = the last cut. */
  readonly #anchoredBy: readonly number[];

  constructor(
    map: SpoolMap,
    remainder: Remainder,
    guard: CountGuard,
    shortestMm: number,
    landmarks: 'confirmed' | 'unconfirmed' = 'confirmed',
  ) {
    this.remainder = remainder;
    this.shortestMm = shortestMm;
    this.#guard = guard;
    this.#bad = joinNear(remainder.badStretches, shortestMm);
    this.count = this.#bad.length;
    const anchors: Anchor[] = [anchorAtCut(remainder)];
    const anchoredBy = [-1];
    for (const [i, bad] of this.#bad.entries()) {
      const seen =
        landmarks === 'confirmed' ? landmarksBetween(map, Math.max(bad.fromMm, remainder.cutMm), bad.toMm) : [];
      const last = seen.at(-1);
      // The coil before it, and the piece in which it passes.
      const counts = mostCounts(i, anchoredBy[i]!) + 2;
      const anchor = last === undefined ? null : anchorAtLandmark(map, last, guard, anchors[i]!, counts);
      anchors.push(anchor ?? anchors[i]!);
      anchoredBy.push(anchor === null ? anchoredBy[i]! : i);
    }
    this.#anchors = anchors;
    this.#anchoredBy = anchoredBy;
  }

  /** Whether counts are followed one by one. */
  get isExact(): boolean {
    return this.count <= GROUPS_EXACT;
  }

  /** Length of the coil before the first group; 0 if it would be too short. */
  get headMm(): number {
    const head = this.#startOf(0, 0) - this.remainder.cutMm;
    return head >= this.shortestMm ? head : 0;
  }

  /** Counts since the last anchor that are possible before stretch i, smallest first. */
  countsBefore(i: number): readonly number[] {
    if (i === 0 || !this.isExact) return [0];
    if (this.#anchoredBy[i] === i - 1) return [1];
    return Array.from({ length: COUNTS_EXACT + 1 }, (_, counts) => counts);
  }

  /** Counts since the last anchor once the group i..j is cut out. @param head whether a coil was kept before it */
  countsAfter(i: number, j: number, counts: number, head: boolean): number {
    if (!this.isExact) return 0;
    if (this.#anchoredBy[j + 1]! >= i) return 1;
    return Math.min(COUNTS_EXACT, counts + (head ? 2 : 1));
  }

  /** Length of the coil after the group i..j; 0 if it would be too short. */
  coilAfter(i: number, j: number, counts: number, head: boolean): number {
    const until =
      j + 1 < this.count ? this.#startOf(j + 1, this.countsAfter(i, j, counts, head)) : this.remainder.endMm;
    const length = until - this.#endOf(i, j, counts, head);
    return length >= this.shortestMm ? length : 0;
  }

  pieces({ head, lasts, tail }: Division): Piece[] {
    const { cutMm, endMm } = this.remainder;
    const pieces: Piece[] = [];
    let at = cutMm;
    const add = (keep: boolean, toMm: number): void => {
      pieces.push({ keep, fromMm: at, toMm });
      at = toMm;
    };
    if (head) add(true, this.#startOf(0, 0));
    let first = 0;
    let counts = 0;
    lasts.forEach((last, index) => {
      const final = index === lasts.length - 1;
      const coilBefore = head || index > 0;
      add(false, final && !tail ? endMm : this.#endOf(first, last, counts, coilBefore));
      counts = this.countsAfter(first, last, counts, coilBefore);
      if (!final) add(true, this.#startOf(last + 1, counts));
      first = last + 1;
    });
    if (tail) add(true, endMm);
    return pieces;
  }

  #startOf(i: number, counts: number): number {
    const safe = this.#guard.lastCutBefore(this.#bad[i]!.fromMm, this.#anchors[i]!, this.#atMost(i, counts) + 1);
    return Math.max(this.remainder.cutMm, safe);
  }

  #endOf(i: number, j: number, counts: number, head: boolean): number {
    const { cutMm, endMm } = this.remainder;
    const anchored = this.#anchoredBy[j + 1]! >= i;
    const since = anchored ? 1 : this.#atMost(i, counts) + (head ? 2 : 1);
    const safe = this.#guard.firstCutAfter(this.#bad[j]!.toMm, this.#anchors[j + 1]!, since);
    return Math.min(endMm, Math.max(cutMm, safe));
  }

  #atMost(i: number, counts: number): number {
    return this.isExact && counts < COUNTS_EXACT ? counts : Math.max(counts, mostCounts(i, this.#anchoredBy[i]!));
  }
}

/** Counts since the anchor before stretch i if a coil is kept before every stretch. */
function mostCounts(i: number, anchoredBy: number): number {
  return anchoredBy < 0 ? 2 * i : 2 * (i - anchoredBy) - 1;
}

export function anchorAtCut({ cutMm, cutLeastMm, cutMostMm }: Remainder): Anchor {
  return { atMm: cutMm, belowMm: Math.max(0, cutMm - cutLeastMm), aboveMm: Math.max(0, cutMostMm - cutMm) };
}

/**
 * A landmark that a user will see pass. Others so near that the count cannot tell them apart may be the one that is seen.
 * The error counts twice: once for where this one is expected, once for where another would be.
 */
export function anchorAtLandmark(
  map: SpoolMap,
  landmark: Landmark,
  guard: CountGuard,
  before: Anchor,
  counts: number,
): Anchor {
  const { peakAtOuterMm, spreadMm } = landmark;
  const offMm = spreadMm + 2 * guard.errorAt(peakAtOuterMm + spreadMm, before, counts);
  // It is one of them itself.
  const { leastMm, mostMm } = rangeSeenBetween(map, peakAtOuterMm - offMm, peakAtOuterMm + offMm)!;
  return { atMm: peakAtOuterMm, belowMm: peakAtOuterMm - leastMm, aboveMm: mostMm - peakAtOuterMm };
}

/** No coil fits between stretches nearer than the shortest coil, so they are always cut out together. */
function joinNear(badStretches: readonly BadStretch[], shortestMm: number): BadStretch[] {
  const joined: BadStretch[] = [];
  for (const bad of badStretches) {
    const last = joined[joined.length - 1];
    if (last === undefined || bad.fromMm - last.toMm >= shortestMm) joined.push(bad);
    else joined[joined.length - 1] = { ...last, toMm: bad.toMm };
  }
  return joined;
}
