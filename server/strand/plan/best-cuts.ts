import type { CutGroups, Division, Piece } from './cut-groups.ts';
import type { CutObjective } from './cut-request.ts';
import { cutsForPrints, type PrintBins } from './print-cuts.ts';

export interface BestCuts {
  readonly pieces: readonly Piece[];
  readonly keptMm: number;
  readonly cuts: number;
  /** The most that any choice of cuts can keep. */
  readonly mostMm: number;
}

/**
 * The exact best choice of cuts, by dynamic programming over `CutGroups`: what is best from a state on does not depend on how
 * it was reached. Cuts through good strand are never useful, because they give no landmark. A coil too short to keep counts
 * as 0 mm; it is in no best choice, because without it there are fewer cuts.
 */
export function bestCuts(
  groups: CutGroups,
  objective: CutObjective,
  leastKeptShare: number,
  prints: PrintBins,
): BestCuts {
  const { cutMm, endMm } = groups.remainder;
  if (groups.count === 0) {
    // A spool without bad stretches stays whole, however short: it is not a piece left by a cut.
    const keep = cutMm === 0 || endMm - cutMm >= groups.shortestMm;
    const whole = summed(endMm > cutMm ? [{ keep, fromMm: cutMm, toMm: endMm }] : []);
    return { ...whole, mostMm: whole.keptMm };
  }
  const most = evaluated(groups, mostLength(groups, 0));
  const mostMm = most.keptMm;
  if (objective === 'fewestCuts') return { ...evaluated(groups, fewestCuts(groups, leastKeptShare * mostMm)), mostMm };
  if (objective === 'longestCoil') return { ...evaluated(groups, mostLength(groups, longestCoil(groups))), mostMm };
  // With hundreds of short coils, those of the most length serve as many prints as any.
  if (objective === 'prints' && groups.isExact) return { ...evaluated(groups, cutsForPrints(groups, prints)), mostMm };
  return { ...most, mostMm };
}

function evaluated(groups: CutGroups, division: Division): Omit<BestCuts, 'mostMm'> {
  return summed(groups.pieces(division));
}

function summed(pieces: readonly Piece[]): Omit<BestCuts, 'mostMm'> {
  const keptMm = pieces.reduce((sum, { keep, fromMm, toMm }) => sum + (keep ? toMm - fromMm : 0), 0);
  return { pieces, keptMm, cuts: Math.max(0, pieces.length - 1) };
}

/** One state before each stretch, count and kept or missing coil before it. */
class States {
  readonly #width: number;

  readonly groups: CutGroups;

  constructor(groups: CutGroups) {
    this.groups = groups;
    this.#width = 1 + Math.max(...Array.from({ length: groups.count + 1 }, (_, i) => groups.countsBefore(i).at(-1)!));
  }

  get size(): number {
    return (this.groups.count + 2) * this.#width;
  }

  /** Only before the first stretch can a coil be missing, which has a separate state at the very end. */
  at(i: number, counts: number, head: boolean): number {
    return head ? i * this.#width + counts : (this.groups.count + 1) * this.#width;
  }

  /** Calls back for each state, last stretch first. */
  backwards(visit: (i: number, counts: number, head: boolean) => void): void {
    for (let i = this.groups.count - 1; i >= 0; i--) {
      for (const counts of this.groups.countsBefore(i)) visit(i, counts, true);
    }
    visit(0, 0, false);
  }
}

/**
 * The most length, with the fewest cuts that reach it.
 * @param longestMm only choices with a coil of at least this length; 0 = all
 */
function mostLength(groups: CutGroups, longestMm: number): Division {
  const n = groups.count;
  const states = new States(groups);
  // Twice: where such a coil is still missing, and where it is not.
  const kept = [0, 1].map(() => new Float64Array(states.size).fill(Number.NEGATIVE_INFINITY));
  const cuts = [0, 1].map(() => new Int32Array(states.size));
  const last = [0, 1].map(() => new Int32Array(states.size).fill(n - 1));
  states.backwards((i, counts, head) => {
    const at = states.at(i, counts, head);
    const tail = groups.coilAfter(i, n - 1, counts, head);
    for (const missing of [0, 1]) {
      if (missing === 1 && tail < longestMm) continue;
      kept[missing]![at] = tail;
      cuts[missing]![at] = tail > 0 ? 1 : 0;
    }
    for (let j = i; j < n - 1; j++) {
      const coil = groups.coilAfter(i, j, counts, head);
      const next = states.at(j + 1, groups.countsAfter(i, j, counts, head), true);
      for (const missing of [0, 1]) {
        const then = coil >= longestMm ? 0 : missing;
        const length = coil + kept[then]![next]!;
        const count = 2 + cuts[then]![next]!;
        const best = kept[missing]![at]!;
        if (length < best || (length === best && count >= cuts[missing]![at]!)) continue;
        kept[missing]![at] = length;
        cuts[missing]![at] = count;
        last[missing]![at] = j;
      }
    }
  });
  const { headMm } = groups;
  const first = headMm >= longestMm ? 0 : 1;
  const [behind, none] = [states.at(0, 0, true), states.at(0, 0, false)];
  const gain = headMm + kept[first]![behind]! - kept[1]![none]!;
  const head = gain > 0 || (gain === 0 && 1 + cuts[first]![behind]! < cuts[1]![none]!);
  let missing = head ? first : 1;
  const lasts: number[] = [];
  let [i, counts, coilBefore, tail] = [0, 0, head, 0];
  while (i < n) {
    const j = last[missing]![states.at(i, counts, coilBefore)]!;
    tail = groups.coilAfter(i, j, counts, coilBefore);
    if (tail >= longestMm) missing = 0;
    counts = groups.countsAfter(i, j, counts, coilBefore);
    lasts.push(j);
    i = j + 1;
    coilBefore = true;
  }
  return { head, lasts, tail: tail > 0 };
}

/** The longest coil that any choice of cuts can keep; 0 if none. Another coil before it would only cost counts. */
function longestCoil(groups: CutGroups): number {
  let longestMm = groups.headMm;
  for (let j = 0; j < groups.count; j++) longestMm = Math.max(longestMm, groups.coilAfter(0, j, 0, false));
  return longestMm;
}

/** The fewest cuts that keep enough, and of those the most length. */
function fewestCuts(groups: CutGroups, enoughMm: number): Division {
  const n = groups.count;
  const states = new States(groups);
  const { headMm } = groups;
  // Used again for every number of cuts, so a table pays off while it is small. There is then one state for each stretch.
  const table =
    groups.isExact || n > 2048
      ? null
      : Int32Array.from({ length: n * n }, (_, at) => {
          const i = Math.floor(at / n);
          return at % n < i ? 0 : groups.coilAfter(i, at % n, 0, true);
        });
  // By number of cuts: the most length from each state on with so many at most.
  const best: Float64Array[] = [];
  const last: Int32Array[] = [];
  for (let k = 0; ; k++) {
    const value = new Float64Array(states.size);
    const choice = new Int32Array(states.size).fill(n - 1);
    states.backwards((i, counts, head) => {
      const at = states.at(i, counts, head);
      if (k < 2) {
        value[at] = k === 0 ? 0 : groups.coilAfter(i, n - 1, counts, head);
        return;
      }
      for (let j = i; j < n - 1; j++) {
        const after = best[k - 2]![states.at(j + 1, groups.countsAfter(i, j, counts, head), true)]!;
        const coil = table === null || !head ? groups.coilAfter(i, j, counts, head) : table[i * n + j]!;
        if (coil + after > value[at]!) {
          value[at] = coil + after;
          choice[at] = j;
        }
      }
    });
    best.push(value);
    last.push(choice);
    const without = value[states.at(0, 0, false)]!;
    const withHead = k === 0 ? 0 : headMm + best[k - 1]![states.at(0, 0, true)]!;
    // The choice that keeps the most needs 2n cuts at most, so this ends.
    if (Math.max(without, withHead) < enoughMm && k < 2 * n) continue;
    const head = withHead > without;
    const lasts: number[] = [];
    let left = head ? k - 1 : k;
    let [i, counts, coilBefore] = [0, 0, head];
    const tail = left % 2 === 1;
    while (i < n) {
      const j = last[left]![states.at(i, counts, coilBefore)]!;
      lasts.push(j);
      counts = groups.countsAfter(i, j, counts, coilBefore);
      i = j + 1;
      coilBefore = true;
      left -= 2;
    }
    return { head, lasts, tail };
  }
}
