import type { CutGroups, Division } from './cut-groups.ts';

/** The lengths that prints need, each with its reserve, and the coils that are already cut. */
export interface PrintBins {
  readonly needsMm: readonly number[];
  readonly cutCoilsMm: readonly number[];
}

/** A way to serve some of the prints so far. */
interface Served {
  /** Bit i = print i. */
  readonly prints: number;
  readonly keptMm: number;
  readonly cuts: number;
  readonly before: Served | null;
  readonly group: number;
}

/**
 * The division that serves the most prints; of those, the most length of prints, then the most strand with the fewest cuts.
 * A print needs one coil; a coil may do for several.
 */
export function cutsForPrints(groups: CutGroups, bins: PrintBins): Division {
  const n = groups.count;
  const fills = new Fills(bins.needsMm);
  let start: Served[] = [{ prints: 0, keptMm: 0, cuts: 0, before: null, group: -1 }];
  for (const coilMm of bins.cutCoilsMm) start = fills.add(start, coilMm, 0, -1, 0);
  const before = new Map<string, Served[]>();
  const reach = (i: number, counts: number, head: boolean, ways: readonly Served[]): void => {
    const key = `${i} ${counts} ${head}`;
    before.set(key, notWorse([...(before.get(key) ?? []), ...ways]));
  };
  reach(0, 0, false, start);
  if (groups.headMm > 0) reach(0, 0, true, fills.add(start, groups.headMm, 1, -1, groups.headMm));
  let ends: { readonly way: Served; readonly head: boolean; readonly tail: boolean }[] = [];
  const heads = new Map<Served, boolean>();
  const headOf = (way: Served): boolean => {
    for (let at: Served | null = way; at !== null; at = at.before) {
      const known = heads.get(at);
      if (known !== undefined) return known;
    }
    return false;
  };
  for (const head of [false, true]) for (const way of before.get(`0 0 ${head}`) ?? []) heads.set(way, head);
  for (let i = 0; i < n; i++) {
    for (const counts of groups.countsBefore(i)) {
      for (const head of i === 0 ? [true, false] : [true]) {
        const ways = before.get(`${i} ${counts} ${head}`);
        if (ways === undefined) continue;
        for (let j = i; j < n; j++) {
          const coilMm = groups.coilAfter(i, j, counts, head);
          if (j === n - 1) {
            const done = coilMm > 0 ? fills.add(ways, coilMm, 1, j, coilMm) : [];
            const discarded = ways.map((way): Served => ({ ...way, before: way, group: j }));
            ends = [
              ...ends,
              ...done.map((way) => ({ way, head: headOf(way), tail: true })),
              ...discarded.map((way) => ({ way, head: headOf(way), tail: false })),
            ];
          } else if (coilMm > 0) {
            reach(j + 1, groups.countsAfter(i, j, counts, head), true, fills.add(ways, coilMm, 2, j, coilMm));
          }
        }
      }
    }
  }
  const best = ends.reduce((a, b) => (fills.compare(b.way, a.way) > 0 ? b : a));
  const lasts: number[] = [];
  for (let at: Served | null = best.way; at !== null; at = at.before) if (at.group >= 0) lasts.unshift(at.group);
  return { head: best.head, lasts, tail: best.tail };
}

/**
 * Which print is made of which coil: the most prints, of those the most length.
 * @returns for each print the index of its coil; null = none is left for it
 */
export function assignPrints(needsMm: readonly number[], coilsMm: readonly number[]): (number | null)[] {
  const all = 1 << needsMm.length;
  // By set of prints: the first coil up to which they fit, and how much of it they take.
  const coil = new Int32Array(all).fill(coilsMm.length);
  const usedMm = new Float64Array(all);
  const lastPrint = new Int32Array(all).fill(-1);
  coil[0] = 0;
  let best = 0;
  const fills = new Fills(needsMm);
  for (let set = 1; set < all; set++) {
    usedMm[set] = Number.POSITIVE_INFINITY;
    for (const [print, needMm] of needsMm.entries()) {
      const without = set & ~(1 << print);
      if (without === set) continue;
      let at = coil[without]!;
      let takenMm = usedMm[without]! + needMm;
      while (at < coilsMm.length && takenMm > coilsMm[at]!) {
        at += 1;
        takenMm = needMm;
      }
      if (at > coil[set]! || (at === coil[set]! && takenMm >= usedMm[set]!)) continue;
      coil[set] = at;
      usedMm[set] = takenMm;
      lastPrint[set] = print;
    }
    if (coil[set]! < coilsMm.length && fills.worth(set, best) > 0) best = set;
  }
  const assigned: (number | null)[] = needsMm.map(() => null);
  for (let set = best; set > 0; set &= ~(1 << lastPrint[set]!)) assigned[lastPrint[set]!] = coil[set]!;
  return assigned;
}

/** Which sets of prints can be made of one coil. */
class Fills {
  readonly #needsMm: readonly number[];
  readonly #sums: readonly { readonly prints: number; readonly sumMm: number }[];

  constructor(needsMm: readonly number[]) {
    this.#needsMm = needsMm;
    this.#sums = Array.from({ length: 1 << needsMm.length }, (_, prints) => ({ prints, sumMm: this.sumMm(prints) }));
  }

  sumMm(prints: number): number {
    return this.#needsMm.reduce((sum, mm, print) => sum + (prints & (1 << print) ? mm : 0), 0);
  }

  /** Above zero if the first set is worth more. */
  worth(a: number, b: number): number {
    return bitCount(a) - bitCount(b) || this.sumMm(a) - this.sumMm(b);
  }

  compare(a: Served, b: Served): number {
    return this.worth(a.prints, b.prints) || a.keptMm - b.keptMm || b.cuts - a.cuts;
  }

  /** Each way with another coil. A print that two coils could serve is no harm: it is taken from one of them. */
  add(ways: readonly Served[], coilMm: number, cuts: number, group: number, keptMm: number): Served[] {
    const fitting = this.#sums.filter(({ prints, sumMm }) => {
      const another = this.#needsMm.some((mm, print) => (prints & (1 << print)) === 0 && sumMm + mm <= coilMm);
      return sumMm <= coilMm && !another;
    });
    const filled: Served[] = [];
    for (const way of ways) {
      const done = new Set<number>();
      for (const { prints } of fitting) {
        const served = way.prints | prints;
        if (done.has(served)) continue;
        done.add(served);
        filled.push({ prints: served, keptMm: way.keptMm + keptMm, cuts: way.cuts + cuts, before: way, group });
      }
    }
    return notWorse(filled);
  }
}

/** Leaves out each way that another one beats in everything. */
function notWorse(ways: readonly Served[]): Served[] {
  const sorted = [...ways].sort(
    (a, b) => bitCount(b.prints) - bitCount(a.prints) || b.keptMm - a.keptMm || a.cuts - b.cuts,
  );
  const kept: Served[] = [];
  for (const way of sorted) {
    const beaten = kept.some(
      ({ prints, keptMm, cuts }) =>
        (prints | way.prints) === prints && (keptMm > way.keptMm || (keptMm === way.keptMm && cuts <= way.cuts)),
    );
    if (!beaten) kept.push(way);
  }
  return kept;
}

function bitCount(set: number): number {
  let count = 0;
  for (let left = set; left > 0; left &= left - 1) count += 1;
  return count;
}
