import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import { assignPrints } from '../../../server/strand/plan/print-cuts.ts';
import { everyDivision, mostPrints } from './every-division.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

const millimetres = (most: number) => fc.integer({ min: 1, max: most });

/** So short that a coil kept or not, by the slip of its counts, often decides whether a print fits on the next. */
const shortSpools = fc.record({
  gapsMm: fc.array(millimetres(14), { minLength: 2, maxLength: 5 }),
  shortestCoilMm: millimetres(4),
  slipMm: fc.integer({ min: 0, max: 3 }),
  printsMm: fc.array(millimetres(14), { maxLength: 4 }),
});

describe('a plan for prints', () => {
  it('serves the most of them, then the longest, then keeps the most with the fewest cuts', () => {
    fc.assert(
      fc.property(shortSpools, ({ gapsMm, shortestCoilMm, slipMm, printsMm }) => {
        const stretches: PlanStretch[] = [];
        let atMm = 0;
        for (const gapMm of gapsMm.slice(1)) {
          stretches.push({ fromMm: atMm + gapMm, toMm: atMm + gapMm + 1, fate: 'discard' });
          atMm += gapMm + 1;
        }
        const request = {
          ...WHOLE_SPOOL,
          woundMm: atMm + gapsMm[0]!,
          stretches,
          shortestCoilMm,
          objective: 'prints' as const,
          printsMm,
          countError: { wheelShare: 0, lengthScaleShare: 0, slipMm },
        };
        const plan = planCuts(request);
        const served = plan.prints.filter(({ coil }) => coil !== null).map(({ needMm }) => needMm);
        const keptMm = plan.coils.reduce((sum, { lengthMm }) => sum + lengthMm, 0);
        const found = [served.length, served.reduce((sum, mm) => sum + mm, 0), keptMm, -plan.totals.cuts];
        const best = everyDivision(request)
          .map(({ coils, kept, cuts }) => {
            const { count, sumMm } = mostPrints(printsMm, coils);
            return [count, sumMm, kept, -cuts];
          })
          .reduce((a, b) => ((b.map((value, i) => value - a[i]!).find((by) => by !== 0) ?? 0) > 0 ? b : a));
        expect(found).toEqual(best);
      }),
      { numRuns: 400 },
    );
  });
});

describe('the coils for prints', () => {
  it('are those on which the most prints fit, and of those the longest, each print on one', () => {
    fc.assert(
      fc.property(
        fc.array(millimetres(9), { maxLength: 5 }),
        fc.array(millimetres(12), { maxLength: 4 }),
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
      { numRuns: 400 },
    );
  });
});
