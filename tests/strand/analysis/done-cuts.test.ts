import { describe, expect, it } from 'vitest';
import { Problem } from '../../../server/problem/problem.ts';
import { type CutPlan, planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import type { DoneCut } from '../../../server/strand/plan/done-cuts.ts';

/** 100 m. From the outer end: a neck at 30,000 to 30,030 with its peak at 30,020, a blob at 60,000 to 60,012, peak at 60,005. */
const neck: PlanStretch = { fromMm: 69_970, toMm: 70_000, fate: 'discard', kind: 'neck', peakAtMm: 69_980 };
const blob: PlanStretch = { fromMm: 39_988, toMm: 40_000, fate: 'discard', kind: 'blob', peakAtMm: 39_995 };
const request: CutRequest = {
  spoolName: 'Moss 7',
  woundMm: 100_000,
  stretches: [neck, blob],
  shortestCoilMm: 5000,
  objective: 'mostLength',
  doubtful: 'cut',
  unknown: 'cut',
  countError: { wheelShare: 0.01, lengthScaleShare: 0, slipMm: 10 },
};

const keep = (countedMm: number, more: Partial<DoneCut> = {}): DoneCut => ({ action: 'keep', countedMm, ...more });
const discard = (countedMm: number, landmarkCountedMm?: number): DoneCut => ({
  action: 'discard',
  countedMm,
  ...(landmarkCountedMm === undefined ? {} : { landmarkCountedMm }),
});
const planAfter = (...done: DoneCut[]): CutPlan => planCuts(request, done);
const conditions = (...done: DoneCut[]): string[] => planAfter(...done).donePieces.map(({ condition }) => condition);

describe('the condition of a coil', () => {
  it('is in doubt up to a cut exactly where the stretch begins, and spoilt a millimetre later', () => {
    expect(conditions(keep(30_000))).toEqual(['inDoubt']);
    expect(conditions(keep(30_001))).toEqual(['spoilt']);
  });

  it('is in doubt when the discarded piece before it may have been too short', () => {
    // The piece ends where the neck ends, as counted.
    expect(conditions(keep(29_693), discard(337), keep(20_000))).toEqual(['clean', 'clean', 'inDoubt']);
  });

  it('follows from where the next landmark shows the cut to have been', () => {
    // Counted 100 mm too far: with the neck's peak 100 mm behind it, the cut was at 29,920.
    expect(conditions(keep(30_100), discard(500, 100))[0]).toBe('clean');
    expect(conditions(keep(29_693), discard(500, 20))[0]).toBe('clean');
    expect(conditions(keep(29_693), discard(500, 19))[0]).toBe('spoilt');
    // A neck that was cut out before the coil began is not in it.
    expect(conditions(keep(29_693), discard(651), keep(29_000), discard(1000, 600))).toEqual(Array(4).fill('clean'));
  });

  it('stays in doubt at its outer end when a landmark shows only where its inner end was', () => {
    const cuts = [keep(29_693), discard(400), keep(29_500)];
    expect(conditions(...cuts)).toEqual(['clean', 'clean', 'inDoubt']);
    expect(conditions(...cuts, discard(800, 400))[2]).toBe('inDoubt');
  });

  it('does not matter for a piece that is discarded', () => {
    expect(conditions(discard(40_000), discard(21_000, 20_000))).toEqual(['clean', 'clean']);
  });
});

describe('the landmark that was counted', () => {
  it('is the next one with something to see', () => {
    const unmeasured: PlanStretch = { fromMm: 95_000, toMm: 96_000, fate: 'unknown', kind: 'unknown' };
    // The first piece may not have taken all of the unmeasured stretch off.
    const { donePieces } = planCuts({ ...request, stretches: [unmeasured, neck] }, [
      discard(5000),
      discard(26_000, 25_010),
    ]);
    expect(donePieces[1]).toMatchObject({ fromOuterMm: 5010, toOuterMm: 31_010, knownToMm: 30_020 });
  });

  it('is not one that came off with an earlier piece, even if the rest of its stretch is still there', () => {
    const drift: PlanStretch = { fromMm: 50_000, toMm: 70_000, fate: 'discard', kind: 'drift', peakAtMm: 69_000 };
    const { donePieces } = planCuts({ ...request, stretches: [drift, blob] }, [
      keep(29_500),
      discard(10_500),
      discard(21_000, 20_050),
    ]);
    expect(donePieces[2]).toMatchObject({ fromOuterMm: 39_955, toOuterMm: 60_955 });
  });

  it('may have passed at either end of the piece', () => {
    expect(planAfter(keep(29_990), discard(60, 0)).donePieces[1]).toMatchObject({
      fromOuterMm: 30_020,
      toOuterMm: 30_080,
    });
    expect(planAfter(keep(29_693), discard(327, 327)).donePieces[1]).toMatchObject({ toOuterMm: 30_020 });
  });

  it('restarts the count, but a stretch that went unseen into a coil does not', () => {
    expect(planAfter(keep(29_693), discard(400, 327)).donePieces[1]).toMatchObject({
      knownToMm: 30_020,
      knownAfterMm: 30_030,
    });
    expect(planAfter(keep(31_000)).donePieces[0]).toMatchObject({ condition: 'spoilt', knownAfterMm: 0 });
  });
});

describe('the last piece', () => {
  it('ends at the core when that is bare, whatever was counted', () => {
    for (const countedMm of [99_200, 100_500]) {
      const plan = planCuts({ ...request, stretches: [] }, [keep(countedMm, { reachedEnd: true })]);
      expect(plan.coils).toMatchObject([{ lengthMm: 100_000, state: 'cut' }]);
      expect(plan.steps).toEqual([]);
    }
    const cutThrough = planCuts({ ...request, stretches: [] }, [keep(99_200, { reachedEnd: false })]);
    expect(cutThrough.coils[0]?.lengthMm).toBe(99_200);
  });
});

describe('impossible cuts', () => {
  const refusal = (stretches: readonly PlanStretch[], ...done: DoneCut[]): unknown => {
    try {
      return planCuts({ ...request, stretches }, done);
    } catch (thrown) {
      if (!(thrown instanceof Problem)) throw thrown;
      return { pointer: thrown.pointer, cut: /\b[Cc]ut (-?\d+)/.exec(thrown.message)?.[1] };
    }
  };

  it('are refused with the number of the cut, and the field at fault', () => {
    expect(refusal([], keep(1000), keep(-1))).toEqual({ pointer: '/countedMm', cut: '2' });
    expect(refusal([], keep(1000), keep(120_000))).toEqual({ pointer: '/countedMm', cut: '2' });
    expect(refusal([neck], keep(1000), discard(10, 11))).toEqual({ pointer: '/landmarkCountedMm', cut: '2' });
    expect(refusal([neck], keep(1000), discard(10, -1))).toEqual({ pointer: '/landmarkCountedMm', cut: '2' });
    expect(refusal([], keep(1000), discard(10, 5))).toEqual({ pointer: '/landmarkCountedMm', cut: '2' });
    expect(refusal([], keep(100_000), keep(1))).toEqual({ pointer: null, cut: '2' });
  });
});
