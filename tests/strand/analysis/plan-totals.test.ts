import { describe, expect, it } from 'vitest';
import { planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import type { DoneCut } from '../../../server/strand/plan/done-cuts.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

/** 100 m with two stretches that cannot be seen, 55 and 70 m from the outer end. */
const bad = (outerMm: number): PlanStretch => ({
  fromMm: WHOLE_SPOOL.woundMm - outerMm - 100,
  toMm: WHOLE_SPOOL.woundMm - outerMm,
  fate: 'discard',
  kind: 'offTolerance',
});
const request: CutRequest = {
  ...WHOLE_SPOOL,
  stretches: [bad(55_000), bad(70_000)],
  countError: { wheelShare: 0, lengthScaleShare: 0, slipMm: 10 },
};

describe('a print, and the coils that are already cut', () => {
  /** A print that needs 5 mm more than the last coil has, if the one between the two stretches is kept as well. */
  const planned = (...done: DoneCut[]) => {
    const needMm = planCuts(request, done).coils.at(-1)!.lengthMm + 5;
    const plan = planCuts({ ...request, objective: 'prints', printsMm: [needMm] }, done);
    expect(plan.prints[0]?.coil).not.toBeNull();
    return plan.coils.filter(({ state }) => state === 'planned');
  };
  const isBetween = ({ fromOuterMm }: { fromOuterMm: number }) => fromOuterMm > 55_000 && fromOuterMm < 70_000;

  it('needs nothing more where one of them is clean and long enough', () => {
    expect(planned({ action: 'keep', countedMm: 35_000 }).some(isBetween)).toBe(true);
    expect(planned({ action: 'discard', countedMm: 2000 }, { action: 'keep', countedMm: 35_000 }).some(isBetween)).toBe(
      true,
    );
  });

  it.each<[string, ...DoneCut[]]>([
    ['is too short', { action: 'keep', countedMm: 29_000 }],
    [
      'is too short, with the piece before it',
      { action: 'discard', countedMm: 2000 },
      { action: 'keep', countedMm: 29_000 },
    ],
    ['was discarded', { action: 'discard', countedMm: 35_000 }],
    ['may hold a bad stretch', { action: 'keep', countedMm: 54_995 }],
    ['holds a bad stretch', { action: 'keep', countedMm: 55_050 }],
  ])('gets a longer coil where the one before it %s', (_, ...done) => {
    // Two counts less, with a slip of 10 mm each.
    expect(planned(...done).some(isBetween)).toBe(false);
  });
});

describe('the totals of a plan', () => {
  it('have no gain from landmarks where there is nothing to see', () => {
    // The coil of 120 mm between these stretches costs more in slip than it brings.
    const countError = { wheelShare: 0, lengthScaleShare: 0, slipMm: 76 };
    const stretches = [bad(60_000), bad(60_600), bad(61_200)];
    const { totals } = planCuts({ ...request, stretches, shortestCoilMm: 50, countError });
    expect(totals).toMatchObject({ landmarkGainMm: 0, cuts: 2 });
  });

  it('say what is lost if no landmark is confirmed: what a plan with the same aim keeps less without landmarks', () => {
    const aims = [
      { objective: 'mostLength' },
      { objective: 'fewestCuts' },
      { objective: 'longestCoil' },
      { objective: 'prints', printsMm: [25_000, 30_000] },
    ] as const;
    for (const aim of aims) {
      const totals = (kind: 'blob' | 'offTolerance', places: readonly number[]) => {
        const stretches = places.map((mm): PlanStretch => ({ ...bad(mm), kind, peakAtMm: 100_000 - mm }));
        return planCuts({ ...request, ...aim, stretches }).totals;
      };
      // A coil between two stretches is 50 mm shorter than their distance, and the last one 20 or 40 mm.
      for (const places of [
        [30_000, 35_149],
        [30_000, 35_150, 60_000],
        [30_000, 32_000, 60_000],
        [4000, 30_000, 60_000],
        [60_000, 94_860],
        [94_881],
      ]) {
        const seen = totals('blob', places);
        const unseen = totals('offTolerance', places);
        expect(seen.landmarkGainMm, `${aim.objective} ${places}`).toBe(seen.keptMm - unseen.keptMm);
      }
      if (aim.objective === 'mostLength') expect(totals('blob', [30_000, 35_149]).landmarkGainMm).toBeGreaterThan(4900);
    }
  });

  it('count the cuts that were made, without the bare end', () => {
    const { steps, totals } = planCuts(request);
    const done = steps.map(
      ({ action, countedMm, cutAfter }): DoneCut => ({
        action: action === 'discard' ? 'discard' : 'keep',
        countedMm,
        reachedEnd: !cutAfter,
      }),
    );
    for (let made = 0; made <= done.length; made++)
      expect(planCuts(request, done.slice(0, made)).totals).toMatchObject({ cuts: totals.cuts, keptMm: totals.keptMm });
  });
});
