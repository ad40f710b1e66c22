import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { planCuts } from '../../../server/strand/plan/cut-plan.ts';
import { CUT_OBJECTIVES, type CutObjective, type PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import { assignPrints } from '../../../server/strand/plan/print-cuts.ts';
import { tries } from '../../long-check.ts';
import { everyDivision, mostPrints } from './every-division.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

const between = (min: number, max: number) => fc.integer({ min, max });

/** So short that the slip of its counts often decides which coils are worth keeping, for most length or for the prints. */
const shortSpools = fc.record({
  gapsMm: fc.array(between(1, 9), { minLength: 2, maxLength: 5 }),
  shortestCoilMm: between(1, 2),
  slipMm: fc.constantFrom(1, 2, 0),
  printsMm: fc.array(between(3, 9), { maxLength: 3 }),
  leastKeptShare: fc.constantFrom(0.3, 0.6, 0.9, 1),
  blob: between(0, 9),
});

interface ShortSpool {
  readonly gapsMm: readonly number[];
  readonly shortestCoilMm: number;
  readonly slipMm: number;
  readonly printsMm: readonly number[];
  readonly leastKeptShare: number;
  /** The stretch that can be seen, if there are so many: with two, the count could not tell one from the other. */
  readonly blob?: number;
}

/** The spool, its stretches from the inner end on. */
function requestOf({ gapsMm, shortestCoilMm, slipMm, printsMm, leastKeptShare, blob }: ShortSpool) {
  const stretches: PlanStretch[] = [];
  let atMm = 0;
  for (const [i, gapMm] of gapsMm.slice(1).entries()) {
    const fromMm = atMm + gapMm;
    const seen = i === blob ? ({ kind: 'blob', peakAtMm: fromMm } as const) : {};
    stretches.push({ fromMm, toMm: fromMm + 1, fate: 'discard', ...seen });
    atMm += gapMm + 1;
  }
  const countError = { wheelShare: 0, lengthScaleShare: 0, slipMm };
  return {
    ...WHOLE_SPOOL,
    woundMm: atMm + gapsMm[0]!,
    stretches,
    shortestCoilMm,
    printsMm,
    leastKeptShare,
    countError,
  };
}

/** By the first of several aims in which two choices differ. */
function best(aims: readonly number[][]): number[] {
  return aims.reduce((a, b) => ((b.map((value, i) => value - a[i]!).find((by) => by !== 0) ?? 0) > 0 ? b : a));
}

describe('the best cuts of a short spool', () => {
  it('are the best of every way to cut, for each aim', () => {
    fc.assert(
      fc.property(shortSpools, (spool) => {
        const request = requestOf(spool);
        const all = everyDivision(request).map(({ coils, kept, cuts }) => {
          const { count, sumMm } = mostPrints(spool.printsMm, coils);
          return { count, sumMm, kept, cuts, longest: Math.max(0, ...coils) };
        });
        const mostMm = Math.max(...all.map(({ kept }) => kept));
        const enoughMm = spool.leastKeptShare * mostMm;
        const found = (objective: CutObjective) => {
          const { coils, prints, totals } = planCuts({ ...request, objective });
          const served = prints.filter(({ coil }) => coil !== null).map(({ needMm }) => needMm);
          const lengths = coils.map(({ lengthMm }) => lengthMm);
          return {
            count: served.length,
            sumMm: served.reduce((sum, mm) => sum + mm, 0),
            kept: lengths.reduce((sum, mm) => sum + mm, 0),
            cuts: totals.cuts,
            longest: Math.max(0, ...lengths),
          };
        };
        const aims: Record<CutObjective, (one: (typeof all)[number]) => number[]> = {
          mostLength: ({ kept, cuts }) => [kept, -cuts],
          fewestCuts: ({ kept, cuts }) => [kept >= enoughMm ? 1 : 0, -cuts, kept],
          longestCoil: ({ longest, kept, cuts }) => [longest, kept, -cuts],
          prints: ({ count, sumMm, kept, cuts }) => [count, sumMm, kept, -cuts],
        };
        for (const objective of CUT_OBJECTIVES)
          expect([objective, ...aims[objective](found(objective))]).toEqual([
            objective,
            ...best(all.map(aims[objective])),
          ]);
      }),
      {
        numRuns: tries(250),
        // The same with fewer cuts; a coil before the longest that costs nothing; a coil worth no more than its counts; a print
        // that fits if the coil before is given up; the same with fewer cuts, up to a landmark.
        examples: [
          [{ gapsMm: [1, 3, 5, 1, 1], shortestCoilMm: 1, slipMm: 1, printsMm: [], leastKeptShare: 0.3, blob: 9 }],
          [{ gapsMm: [1, 5, 1, 6, 4], shortestCoilMm: 1, slipMm: 1, printsMm: [], leastKeptShare: 0.3, blob: 2 }],
          [{ gapsMm: [3, 4, 7], shortestCoilMm: 1, slipMm: 1, printsMm: [], leastKeptShare: 0.9, blob: 9 }],
          [{ gapsMm: [4, 1, 7, 1], shortestCoilMm: 1, slipMm: 1, printsMm: [4], leastKeptShare: 0.3, blob: 0 }],
          [{ gapsMm: [3, 1, 4, 5], shortestCoilMm: 1, slipMm: 1, printsMm: [], leastKeptShare: 0.3, blob: 1 }],
        ],
      },
    );
  });
});

describe('the fewest cuts of a spool with hundreds of stretches', () => {
  it('take the longest coils, and those at its ends first', () => {
    const gapsMm = Array.from({ length: 211 }, (_, i) => 1000 + ((i * 7919) % 1009));
    const request = requestOf({ gapsMm, shortestCoilMm: 500, slipMm: 0, printsMm: [], leastKeptShare: 0.5 });
    const [tail, ...others] = gapsMm.slice(1);
    const inner = others.slice(0, -1).sort((a, b) => b - a);
    const most = gapsMm.reduce((sum, mm) => sum + mm, 0);
    const choices: number[][] = [];
    for (const ends of [[], [gapsMm[0]!], [tail!], [gapsMm[0]!, tail!]])
      for (let count = 0; count <= inner.length; count++) {
        const kept = [...ends, ...inner.slice(0, count)].reduce((sum, mm) => sum + mm, 0);
        if (kept >= 0.5 * most) choices.push([-ends.length - 2 * count, kept]);
      }
    const { totals } = planCuts({ ...request, objective: 'fewestCuts' });
    expect([-totals.cuts, totals.keptMm]).toEqual(best(choices));
    expect(planCuts({ ...request, objective: 'fewestCuts', leastKeptShare: 1 }).totals.keptMm).toBe(most);
  });
});

describe('the rest of a spool without bad stretches', () => {
  it('is kept if it is long enough for a coil, or if nothing was cut', () => {
    const rest = (countedMm: number) => {
      const { steps, totals } = planCuts(WHOLE_SPOOL, [{ action: 'keep', countedMm }]);
      return [steps[0]?.action, totals.keptMm];
    };
    expect(rest(95_000)).toEqual(['unwindAndKeep', 100_000]);
    expect(rest(95_001)).toEqual(['discard', 95_001]);
    expect(planCuts({ ...WHOLE_SPOOL, woundMm: 3000 }).totals).toMatchObject({ keptMm: 3000, cuts: 0 });
  });
});

describe('the cuts for prints', () => {
  it('keep the most strand once a coil that is already cut serves them', () => {
    const spool = { gapsMm: [9, 6, 7], shortestCoilMm: 1, slipMm: 1, leastKeptShare: 0.9, blob: 1 };
    const after = (printsMm: readonly number[]) =>
      planCuts({ ...requestOf({ ...spool, printsMm }), objective: 'prints' }, [{ action: 'keep', countedMm: 8 }]);
    const lengths = (printsMm: readonly number[]) => after(printsMm).coils.map(({ lengthMm }) => lengthMm);
    // 8 mm are cut. For a second print of 5 mm one coil of the rest has to be longer.
    expect([lengths([5]), lengths([5, 5])]).toEqual([
      [8, 4, 3],
      [8, 5],
    ]);
  });
});

describe('the coils for prints', () => {
  it('are those on which the most prints fit, and of those the longest, each print on one', () => {
    fc.assert(
      fc.property(
        fc.array(between(1, 9), { maxLength: 5 }),
        fc.array(between(1, 12), { maxLength: 4 }),
        (needs, coils) => {
          const assigned = assignPrints(needs, coils);
          const served = needs.filter((_, print) => assigned[print] !== null);
          expect(assigned).toHaveLength(needs.length);
          expect({ count: served.length, sumMm: served.reduce((sum, mm) => sum + mm, 0) }).toEqual(
            mostPrints(needs, coils),
          );
          for (const [coil, lengthMm] of coils.entries())
            expect(needs.reduce((sum, mm, print) => sum + (assigned[print] === coil ? mm : 0), 0)).toBeLessThanOrEqual(
              lengthMm,
            );
        },
      ),
      // Two short prints are worth more than a long one; two that leave room on the second coil, more than two that do not.
      {
        numRuns: tries(250),
        examples: [
          [[9, 4, 4], [9]],
          [
            [4, 7, 1],
            [1, 11],
          ],
        ],
      },
    );
  });
});
