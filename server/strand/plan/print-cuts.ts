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
  let start: readonly Served[] = [{ prints: 0, keptMm: 0, cuts: 0, before: null, group: -1 }];
  for (const coilMm of bins.cutCoilsMm) start = fills.add(start, { coilMm, keptMm: 0, cuts: 0, group: -1 });
  const withCoil = (ways: readonly Served[], coilMm: number, cuts: number, group: number): readonly Served[] =>
    coilMm > 0 ? fills.add(ways, { coilMm, keptMm: coilMm, cuts, group }) : [];
  const before = new Map<string, readonly Served[]>();
  const reach = (i: number, counts: number, head: boolean, ways: readonly Served[]): void => {
    const key = `${i} ${counts} ${head}`;
    before.set(key, notBeaten([...(before.get(key) ?? []), ...ways]));
  };
  reach(0, 0, false, start);
  reach(0, 0, true, withCoil(start, groups.headMm, 1, -1));
  const ends: Served[] = [];
  for (let i = 0; i < n; i++) {
    for (const counts of groups.countsBefore(i)) {
      for (const head of [true, false]) {
        const ways = before.get(`${i} ${counts} ${head}`) ?? [];
        for (let j = i; j < n; j++) {
          const coilMm = groups.coilAfter(i, j, counts, head);
          if (j < n - 1) reach(j + 1, groups.countsAfter(i, j, counts, head), true, withCoil(ways, coilMm, 2, j));
          else ends.push(...withCoil(ways, coilMm, 1, j), ...ways.map((way) => ({ ...way, before: way, group: j })));
        }
      }
    }
  }
  const best = ends.reduce((a, b) => (fills.compare(b, a) > 0 ? b : a));
  const steps: Served[] = [];
  for (let at: Served | null = best; at !== null; at = at.before) steps.unshift(at);
  return {
    head: steps.some(({ group, keptMm }) => group < 0 && keptMm > 0),
    lasts: steps.map(({ group }) => group).filter((group) => group >= 0),
    tail: best.keptMm > best.before!.keptMm,
  };
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
  const lastPrint = new Int32Array(all);
  // Behind the last coil there is room for everything that found none.
  const roomMm = [...coilsMm, Number.POSITIVE_INFINITY];
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
      while (takenMm > roomMm[at]!) {
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
  readonly #fitting = new Map<number, readonly number[]>();

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
  add(ways: readonly Served[], { coilMm, ...more }: Pick<Served, 'keptMm' | 'cuts' | 'group'> & { coilMm: number }) {
    const fitting = this.#fittingIn(coilMm);
    return notBeaten(
      ways.flatMap((way) =>
        fitting.map((prints) => ({
          prints: way.prints | prints,
          keptMm: way.keptMm + more.keptMm,
          cuts: way.cuts + more.cuts,
          before: way,
          group: more.group,
        })),
      ),
    );
  }

  /** The largest sets that a coil is long enough for: no other print fits as well. */
  #fittingIn(coilMm: number): readonly number[] {
    const known = this.#fitting.get(coilMm);
    if (known !== undefined) return known;
    const largest = this.#sums.filter(
      ({ prints, sumMm }) =>
        sumMm <= coilMm && !this.#needsMm.some((mm, print) => (prints & (1 << print)) === 0 && sumMm + mm <= coilMm),
    );
    const fitting = largest.map(({ prints }) => prints);
    this.#fitting.set(coilMm, fitting);
    return fitting;
  }
}

/** Leaves out each way to which another serves as many prints or more, with as much strand and as few cuts. */
function notBeaten(ways: readonly Served[]): readonly Served[] {
  const left: Served[] = [];
  for (const way of ways.toSorted((a, b) => b.keptMm - a.keptMm || a.cuts - b.cuts))
    if (!left.some(({ prints }) => (prints & way.prints) === way.prints)) left.push(way);
  return left;
}

function bitCount(set: number): number {
  let count = 0;
  for (let left = set; left > 0; left &= left - 1) count += 1;
  return count;
}
