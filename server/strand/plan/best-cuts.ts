import type { CountGuard } from './count-guard.ts';
import type { BadStretch } from './spool-map.ts';

/** The strand still on the spool. Positions in whole mm from the outer end. */
export interface Remainder {
  /** Position of the last cut, or 0. */
  readonly cutMm: number;
  /** Where the count was last certain. */
  readonly landmarkMm: number;
  readonly endMm: number;
  /** Stretches to cut out, in order and separate. The first may start before `cutMm`. */
  readonly badStretches: readonly BadStretch[];
}

export interface Piece {
  readonly keep: boolean;
  readonly fromMm: number;
  readonly toMm: number;
}

export interface BestCuts {
  readonly pieces: readonly Piece[];
  readonly keptMm: number;
  readonly cuts: number;
  /** The most that any choice of cuts can keep. */
  readonly mostMm: number;
}

/**
 * The exact best choice of cuts, by dynamic programming.
 *
 * Bad stretches i..j that are cut out in one piece form a group. The piece starts where a cut surely falls before i and
 * ends where it surely falls behind j. Both depend only on the landmark before i, which is the last visible stretch of the
 * previous group. So the best choice from group i on does not depend on the earlier ones and can be stored for each i:
 * O(n²) for the most length, and that once per number of cuts for the fewest cuts.
 * Cuts through good strand are never useful, because they give no landmark.
 */
export function bestCuts(
  remainder: Remainder,
  guard: CountGuard,
  shortestMm: number,
  objective: 'mostLength' | 'fewestCuts',
  leastKeptShare: number,
): BestCuts {
  const { cutMm, endMm } = remainder;
  const table = new Groups(remainder, guard, shortestMm);
  if (table.count === 0) {
    // A spool without bad stretches stays whole, however short: it is not a piece left by a cut.
    const keep = cutMm === 0 || endMm - cutMm >= shortestMm;
    const pieces = endMm > cutMm ? [{ keep, fromMm: cutMm, toMm: endMm }] : [];
    const keptMm = keep ? endMm - cutMm : 0;
    return { pieces, keptMm, cuts: 0, mostMm: keptMm };
  }
  const most = mostLength(table);
  const mostMm = most.keptMm;
  if (objective === 'mostLength') return { ...most, mostMm };
  return { ...fewestCuts(table, leastKeptShare * mostMm), mostMm };
}

/** The groups of bad stretches, their edges and the coils behind them. */
class Groups {
  readonly count: number;
  /** Length of the coil before the first group; 0 if it would be too short. */
  readonly headMm: number;
  readonly #remainder: Remainder;
  readonly #guard: CountGuard;
  readonly #shortestMm: number;
  readonly #badStretches: readonly BadStretch[];
  readonly #landmarks: readonly number[];
  readonly #starts: readonly number[];

  constructor(remainder: Remainder, guard: CountGuard, shortestMm: number) {
    this.#remainder = remainder;
    this.#guard = guard;
    this.#shortestMm = shortestMm;
    this.#badStretches = joinNear(remainder.badStretches, shortestMm);
    this.count = this.#badStretches.length;
    const landmark: number[] = [];
    let known = remainder.landmarkMm;
    for (const bad of this.#badStretches) {
      landmark.push(known);
      known = Math.max(known, bad.seenToMm ?? known);
    }
    this.#landmarks = landmark;
    this.#starts = this.#badStretches.map((bad, i) =>
      Math.max(remainder.cutMm, guard.lastCutBefore(bad.fromMm, landmark[i]!)),
    );
    const head = this.count === 0 ? 0 : this.#starts[0]! - remainder.cutMm;
    this.headMm = head >= shortestMm ? head : 0;
  }

  end(i: number, j: number): number {
    const safe = this.#guard.firstCutAfter(this.#badStretches[j]!.toMm, this.#landmarks[i]!);
    return Math.min(this.#remainder.endMm, Math.max(this.#remainder.cutMm, safe));
  }

  /** Length of the coil behind the group i..j; 0 if it would be too short. */
  coilAfter(i: number, j: number): number {
    const until = j + 1 < this.count ? this.#starts[j + 1]! : this.#remainder.endMm;
    const length = until - this.end(i, j);
    return length >= this.#shortestMm ? length : 0;
  }

  /** Pieces for a series of groups, each given by its last stretch. */
  pieces(head: boolean, lasts: readonly number[], tail: boolean): Piece[] {
    const { cutMm, endMm } = this.#remainder;
    const pieces: Piece[] = [];
    let at = cutMm;
    const add = (keep: boolean, toMm: number): void => {
      if (toMm > at) pieces.push({ keep, fromMm: at, toMm });
      at = Math.max(at, toMm);
    };
    if (head) add(true, this.#starts[0]!);
    let first = 0;
    lasts.forEach((last, index) => {
      const final = index === lasts.length - 1;
      add(false, final && !tail ? endMm : this.end(first, last));
      if (!final) add(true, this.#starts[last + 1]!);
      first = last + 1;
    });
    if (tail) add(true, endMm);
    return pieces;
  }
}

/** No coil fits between stretches nearer than the shortest coil, so they are always cut out together. */
function joinNear(badStretches: readonly BadStretch[], shortestMm: number): BadStretch[] {
  const joined: BadStretch[] = [];
  for (const bad of badStretches) {
    const last = joined[joined.length - 1];
    if (last === undefined || bad.fromMm - last.toMm >= shortestMm) joined.push(bad);
    else
      joined[joined.length - 1] = {
        ...last,
        toMm: bad.toMm,
        seenToMm: bad.seenToMm ?? last.seenToMm,
      };
  }
  return joined;
}

type Choice = Omit<BestCuts, 'mostMm'>;

function mostLength(groups: Groups): Choice {
  const n = groups.count;
  const kept = new Float64Array(n);
  const cuts = new Int32Array(n);
  const last = new Int32Array(n);
  for (let i = n - 1; i >= 0; i--) {
    const tail = groups.coilAfter(i, n - 1);
    kept[i] = tail;
    cuts[i] = tail > 0 ? 1 : 0;
    last[i] = n - 1;
    for (let j = i; j < n - 1; j++) {
      const coil = groups.coilAfter(i, j);
      if (coil === 0) continue;
      const length = coil + kept[j + 1]!;
      const count = 2 + cuts[j + 1]!;
      if (length > kept[i]! || (length === kept[i]! && count < cuts[i]!)) {
        kept[i] = length;
        cuts[i] = count;
        last[i] = j;
      }
    }
  }
  const head = groups.headMm > 0;
  const lasts: number[] = [];
  for (let i = 0; i < n; i = last[i]! + 1) lasts.push(last[i]!);
  const lastGroup = lasts.length < 2 ? 0 : lasts[lasts.length - 2]! + 1;
  return {
    pieces: groups.pieces(head, lasts, groups.coilAfter(lastGroup, n - 1) > 0),
    keptMm: groups.headMm + kept[0]!,
    cuts: cuts[0]! + (head ? 1 : 0),
  };
}

function coilAt(groups: Groups, i: number, j: number): number {
  return j < i ? 0 : groups.coilAfter(i, j);
}

function fewestCuts(groups: Groups, enoughMm: number): Choice {
  const n = groups.count;
  // Used again for every number of cuts, so a table pays off while it is small.
  const table =
    n <= 2048 ? Int32Array.from({ length: n * n }, (_, at) => coilAt(groups, Math.floor(at / n), at % n)) : null;
  // best[k][i]: most length from the start of group i on with exactly k cuts; −1 = impossible.
  const best: Float64Array[] = [
    new Float64Array(n),
    Float64Array.from({ length: n }, (_, i) => groups.coilAfter(i, n - 1) || -1),
  ];
  const last: Int32Array[] = [new Int32Array(n).fill(n - 1), new Int32Array(n).fill(n - 1)];
  const chain = (k: number): number[] => {
    const lasts: number[] = [];
    for (let i = 0; i < n; k -= 2) {
      lasts.push(last[k]![i]!);
      i = last[k]![i]! + 1;
    }
    return lasts;
  };
  for (let k = 0; ; k++) {
    if (k >= 2) {
      const value = new Float64Array(n).fill(-1);
      const choice = new Int32Array(n).fill(n - 1);
      for (let i = 0; i < n - 1; i++) {
        for (let j = i; j < n - 1; j++) {
          const after = best[k - 2]![j + 1]!;
          if (after < 0) continue;
          const coil = table === null ? groups.coilAfter(i, j) : table[i * n + j]!;
          if (coil > 0 && coil + after > value[i]!) {
            value[i] = coil + after;
            choice[i] = j;
          }
        }
      }
      best.push(value);
      last.push(choice);
    }
    const without = best[k]![0]!;
    const withHead = groups.headMm > 0 && k >= 1 ? (best[k - 1]![0]! < 0 ? -1 : groups.headMm + best[k - 1]![0]!) : -1;
    const keptMm = Math.max(without, withHead);
    // The choice that keeps the most needs 2n cuts at most, so this ends.
    if (keptMm < enoughMm && k < 2 * n) continue;
    const head = withHead > without;
    const behind = head ? k - 1 : k;
    return {
      pieces: groups.pieces(head, chain(behind), behind % 2 === 1),
      keptMm: Math.max(0, keptMm),
      cuts: k,
    };
  }
}
