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
  it('is clean up to the last place at which a cut surely falls before the stretch, then in doubt, then spoilt', () => {
    // c / 0.99 + 10 = 30,000 gives 29,690.1.
    expect(conditions(keep(29_690))).toEqual(['clean']);
    expect(conditions(keep(29_691))).toEqual(['inDoubt']);
    expect(conditions(keep(30_000))).toEqual(['inDoubt']);
    expect(conditions(keep(30_001))).toEqual(['spoilt']);
  });

  it('is in doubt when the discarded piece before it may have been too short', () => {
    // 0.99·c − 20 = 30,030 gives 30,353.5.
    expect(conditions(keep(29_690), discard(663), keep(20_000))).toEqual(['clean', 'clean', 'inDoubt']);
    expect(conditions(keep(29_690), discard(664), keep(20_000))).toEqual(['clean', 'clean', 'clean']);
  });

  it('is in doubt if the discarded landmark was not confirmed, because the error of the count continues', () => {
    // Whoever did not see the neck cannot know where this cut fell: c / 0.99 + 30 = 60,000 gives 59,370.3.
    const cuts = [keep(29_690), discard(664)];
    expect(conditions(...cuts, keep(59_370 - 30_354))[2]).toBe('clean');
    expect(conditions(...cuts, keep(59_371 - 30_354))[2]).toBe('inDoubt');
    // Whoever saw it may count on from there: c / 0.99 + 20 = 29,980 gives 29,660.4.
    const seen = [keep(29_690), discard(360, 330)];
    expect(conditions(...seen, keep(29_660 - 30))[2]).toBe('clean');
    expect(conditions(...seen, keep(29_660 - 28))[2]).toBe('inDoubt');
  });

  it('follows from where the next landmark shows the cut to have been', () => {
    // Counted 100 mm too far: with the neck's peak 100 mm behind it, the cut was at 29,920.
    expect(conditions(keep(30_100), discard(500, 100))[0]).toBe('clean');
    // The neck starts 20 mm before its peak: the cut may have been in it.
    expect(conditions(keep(29_800), discard(500, 31))[0]).toBe('clean');
    expect(conditions(keep(29_800), discard(500, 25))[0]).toBe('inDoubt');
    expect(conditions(keep(29_800), discard(500, 19))[0]).toBe('spoilt');
  });

  it('does not matter for a piece that is discarded', () => {
    expect(conditions(discard(40_000), discard(21_000, 20_000))).toEqual(['clean', 'clean']);
  });
});

describe('a coil that was cut too long', () => {
  it('reports where the blob is, and how much to cut off which end', () => {
    const [coil] = planAfter(keep(30_500)).coils;
    // The cut may be at 30,500 / 0.99 + 10 = 30,818.1, so 818.1 mm and another slip must go: 828.1 / 0.99 = 836.5.
    expect(coil?.repair).toMatchObject({ innerMm: 837, outerMm: 0, leftMm: 30_500 - 837 });
    expect(coil?.repair?.sentence).toBe(
      'Coil Moss 7 A holds a thin spot about 470 mm from its inner end. Cut another 837 mm off its inner end, where the cut was: that leaves 29.66 m of clean strand.',
    );
    expect(planAfter(keep(30_500)).warnings).toEqual([coil?.repair?.sentence]);
  });

  it('is clean once it is cut back, and so is the strand after it', () => {
    const { innerMm, leftMm } = planAfter(keep(30_500)).coils[0]!.repair!;
    const after = planAfter(keep(leftMm), discard(innerMm));
    expect(after.coils[0]).toMatchObject({ condition: 'clean', repair: null });
    expect(after.coils.slice(1).every(({ condition }) => condition === 'clean')).toBe(true);
  });

  it('is cut back at the end that loses less, or at both', () => {
    // The discarded piece was too short for the neck.
    const [, coil] = planAfter(keep(29_690), discard(400), keep(20_000)).coils;
    expect(coil?.condition).toBe('inDoubt');
    // The cut may be at 30,090·0.99 − 20 = 29,769.1, and the neck ends at 30,030: (260.9 + 10) / 0.99 = 273.6.
    expect(coil?.repair).toMatchObject({ outerMm: 274, innerMm: 0, leftMm: 20_000 - 274 });
    expect(coil?.repair?.sentence).toContain(
      'may hold a thin spot at its outer end. Cut another 274 mm off its outer end',
    );
    const [, both] = planAfter(keep(29_690), discard(400), keep(30_200)).coils;
    expect(both?.condition).toBe('spoilt');
    expect(both!.repair!.outerMm).toBe(274);
    expect(both!.repair!.innerMm).toBeGreaterThan(290);
    expect(both!.repair!.sentence).toContain('a thin spot at its outer end, a blob about 278 mm from its inner end');
  });

  it('has ends that are certain: the outer end of the spool, and the core', () => {
    const near: PlanStretch = { fromMm: 99_880, toMm: 99_900, fate: 'discard', kind: 'blob' };
    const far: PlanStretch = { fromMm: 980, toMm: 1000, fate: 'discard', kind: 'blob' };
    const both = planCuts({ ...request, stretches: [near, far] }, [
      keep(50_000),
      keep(49_000, { reachedEnd: true }),
    ]).coils;
    expect(both.map(({ condition }) => condition)).toEqual(['spoilt', 'spoilt']);
    // 120 mm and a slip of 10 mm are 131.3 mm by a wheel that is 1 % off; 1000 mm are 1020.2 mm.
    expect(both.map(({ repair }) => [repair?.outerMm, repair?.innerMm])).toEqual([
      [132, 0],
      [0, 1021],
    ]);
  });

  it('is to be discarded if too little would be left', () => {
    const short = planCuts({ ...request, shortestCoilMm: 29_900 }, [keep(30_500)]);
    expect(short.coils[0]?.repair).toMatchObject({ leftMm: 0 });
    expect(short.coils[0]?.repair?.sentence).toContain('Too little would be left of it: discard it.');
  });
});

describe('where a bad stretch is in a coil', () => {
  const sentence = (...done: DoneCut[]) =>
    planAfter(...done).coils.find(({ repair }) => repair !== null)?.repair?.sentence;

  it('is given from the nearer end, or as at an end', () => {
    expect(sentence(keep(29_800))).toContain('may hold a thin spot at its inner end. Cut another');
    expect(sentence(keep(30_010))).toContain('holds a thin spot at its inner end.');
    expect(sentence(keep(29_690), discard(200), keep(20_000))).toContain(
      'holds a thin spot about 110 mm from its outer end. Cut another 474 mm off its outer end, the one that was unwound first: that leaves',
    );
    expect(sentence(keep(29_690), discard(320), keep(20_000))).toContain('holds a thin spot at its outer end.');
    expect(sentence(keep(29_690), discard(340), keep(20_000))).toContain('may hold a thin spot at its outer end.');
    expect(sentence(keep(29_690), discard(340), keep(20_000))).not.toContain('inner end');
    expect(sentence(keep(29_690))).toBeUndefined();
    // A coil that starts or ends with the stretch.
    expect(sentence(discard(30_000), keep(20_000))).toContain('holds a thin spot at its outer end.');
    expect(sentence(keep(30_030))).toContain('holds a thin spot at its inner end.');
  });

  it('says to keep what is left from the shortest length on', () => {
    const left = (shortestCoilMm: number) =>
      planCuts({ ...request, shortestCoilMm }, [keep(30_500)]).coils[0]?.repair?.leftMm;
    expect(left(29_663)).toBe(29_663);
    expect(left(29_664)).toBe(0);
  });
});

describe('a place that was stored', () => {
  const stored = (toMm: number): DoneCut => keep(20_000, { placed: { fromMm: 0, toMm, knownToMm: 0 } });

  it('counts with the range of its counts', () => {
    expect(planAfter(stored(21_000)).donePieces[0]).toMatchObject({ toOuterMm: 21_000 });
    // c / 0.99 + 10 from 21,000 on reaches the neck at 30,000 with 8900.1 mm; from 20,212 on it would with more.
    expect(conditions(stored(21_000), keep(8900))[1]).toBe('clean');
    expect(conditions(stored(21_000), keep(8901))[1]).toBe('inDoubt');
    // 0.99·c − 10 from 19,000 on is behind the neck at 30,030 with 11,151.5 mm.
    expect(planAfter(stored(19_000), discard(11_152)).steps[0]?.action).toBe('unwindAndKeep');
    expect(planAfter(stored(19_000), discard(11_151)).steps[0]?.action).toBe('discard');
    // Within the range, only the counts say how sure it is: 20,000 / 0.99 + 10 = 20,212.
    expect(conditions(stored(20_100), keep(9679))[1]).toBe('clean');
    expect(conditions(stored(20_100), keep(9681))[1]).toBe('inDoubt');
  });
});

describe('the landmark that was counted', () => {
  it('is one that can have passed at that count', () => {
    const unmeasured: PlanStretch = { fromMm: 95_000, toMm: 96_000, fate: 'unknown', kind: 'unknown' };
    // The first piece may not have taken all of the unmeasured stretch off.
    const { donePieces } = planCuts({ ...request, stretches: [unmeasured, neck] }, [
      discard(5000),
      discard(26_000, 25_010),
    ]);
    expect(donePieces[1]).toMatchObject({ fromOuterMm: 5010, toOuterMm: 31_010, knownToMm: 30_020 });
  });

  it('is not strand that only drifts, which shows no place', () => {
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
    expect(planAfter(keep(29_690), discard(330, 330)).donePieces[1]).toMatchObject({ toOuterMm: 30_020 });
  });

  it('restarts the count, but an unconfirmed stretch does not', () => {
    expect(planAfter(keep(29_690), discard(400, 330)).donePieces[1]).toMatchObject({ knownToMm: 30_020 });
    expect(planAfter(keep(29_690), discard(664)).donePieces[1]).toMatchObject({ knownToMm: 0 });
  });

  it('tells no more than the count where it is long, nor the count more than a landmark', () => {
    const long: PlanStretch = { fromMm: 98_700, toMm: 99_200, fate: 'discard', kind: 'marked' };
    const planWith = (...done: DoneCut[]) => planCuts({ ...request, stretches: [long, neck] }, done);
    // The stretch ends at 1300 and has no peak. 1050 mm and 450 mm from the outer end are 1465 to 1535.2 mm.
    expect(planWith(discard(1500, 1050)).steps[0]?.action).toBe('unwindAndKeep');
    // c / 0.99 + 10 from there to the neck at 30,000 gives 28,170.2.
    const last = (countedMm: number) => planWith(discard(1500, 1050), keep(countedMm)).donePieces[1]?.condition;
    expect([last(28_170), last(28_171)]).toEqual(['clean', 'inDoubt']);
  });

  it('may have been seen at any point of a stretch without a peak', () => {
    const marked = (outerMm: number, lengthMm: number): PlanStretch => ({
      fromMm: 100_000 - outerMm - lengthMm,
      toMm: 100_000 - outerMm,
      fate: 'discard',
      kind: 'marked',
    });
    const planWith = (stretches: readonly PlanStretch[], ...done: DoneCut[]) =>
      planCuts({ ...request, stretches }, done);
    for (const passedMm of [800, 1300])
      expect(planWith([marked(800, 500)], discard(1500, passedMm)).steps[0]?.action).toBe('unwindAndKeep');
    // The blob at 29,590 and the start of the long stretch at 30,000 pass at nearly the same count.
    const first: PlanStretch = { fromMm: 70_405, toMm: 70_415, fate: 'discard', kind: 'blob', peakAtMm: 70_410 };
    const seen = [keep(29_200), discard(2000, 600)];
    // If the long stretch was seen at its start, the cut was at 31,400 at most, not at 30,990.
    const last = (countedMm: number) =>
      planWith([first, marked(30_000, 500), blob], ...seen, keep(countedMm)).donePieces[2]?.condition;
    expect(last(28_400)).toBe('inDoubt');
  });

  it('may be either of two that the count cannot tell apart, and then both stay possible', () => {
    // 400 mm before the blob there is another one; after 60 m the count may be off by 600 mm.
    const other: PlanStretch = { fromMm: 40_400, toMm: 40_410, fate: 'discard', kind: 'blob', peakAtMm: 40_405 };
    const both = { ...request, stretches: [other, blob] };
    const conditionOf = (countedMm: number) =>
      planCuts(both, [keep(58_000), discard(countedMm, 1600)]).steps[0]!.action;
    // The other one's peak was 59,595, this one's 60,005. If it was the other, the blob is still to come.
    expect(conditionOf(1700)).toBe('discard');
    expect(conditionOf(1600 + 440)).toBe('unwindAndKeep');
    const known = (passedMm: number) =>
      planCuts(both, [keep(58_000), discard(2500, passedMm)]).donePieces[1]?.knownToMm;
    expect([known(1600), known(1799), known(1801), known(2000)]).toEqual([59_595, 59_595, 60_005, 60_005]);
  });

  it('moves a cut only as far as the count allows, but never one that is stored', () => {
    const peak: PlanStretch = { fromMm: 99_595, toMm: 99_605, fate: 'discard', kind: 'blob', peakAtMm: 99_600 };
    const countError = { wheelShare: 0, lengthScaleShare: 0, slipMm: 10 };
    const firstCut = (placed?: DoneCut['placed']) => {
      const seen = { ...discard(400, 313), ...(placed === undefined ? {} : { placed }) };
      return planCuts({ ...request, stretches: [peak], countError }, [discard(100), seen]).donePieces[0]?.toOuterMm;
    };
    // The blob at 400 mm puts the cut at 87 mm, but it was counted at 100 ± 10 mm.
    expect(firstCut()).toBe(90);
    expect(firstCut({ fromMm: 87, toMm: 487, knownToMm: 400 })).toBe(87);
  });

  it('counts for what it was, even if the stretch was stated good later', () => {
    const done = [keep(29_690), discard(400, 330)];
    const { donePieces } = planAfter(...done);
    const placed = done.map((cut, i): DoneCut => {
      const { fromOuterMm, toOuterMm, knownToMm } = donePieces[i]!;
      return { ...cut, placed: { fromMm: fromOuterMm, toMm: toOuterMm, knownToMm } };
    });
    const later = planCuts({ ...request, stretches: [blob] }, placed);
    expect(later.donePieces.map(({ toOuterMm }) => toOuterMm)).toEqual(donePieces.map(({ toOuterMm }) => toOuterMm));
  });
});

describe('the last piece', () => {
  it('ends at the core when that is bare, whatever was counted', () => {
    for (const countedMm of [90_000, 99_200, 100_500, 110_000]) {
      const plan = planCuts({ ...request, stretches: [] }, [keep(countedMm, { reachedEnd: true })]);
      expect(plan.coils).toMatchObject([{ lengthMm: 100_000, state: 'cut' }]);
      expect(plan.steps).toEqual([]);
    }
    const cutThrough = planCuts({ ...request, stretches: [] }, [keep(99_200, { reachedEnd: false })]);
    expect(cutThrough.coils[0]?.lengthMm).toBe(99_200);
  });
});

describe('impossible cuts', () => {
  const texts: string[] = [];

  const refusal = (stretches: readonly PlanStretch[], ...done: DoneCut[]): unknown => {
    try {
      return planCuts({ ...request, stretches }, done);
    } catch (thrown) {
      if (!(thrown instanceof Problem)) throw thrown;
      texts.push(thrown.message);
      return { pointer: thrown.pointer, cut: /\b[Cc]ut (-?\d+)/.exec(thrown.message)?.[1] };
    }
  };

  it('are refused with the number of the cut, and the field at fault', () => {
    expect(refusal([], keep(1000), keep(-1))).toEqual({ pointer: '/countedMm', cut: '2' });
    expect(refusal([], keep(1000), keep(120_000))).toEqual({ pointer: '/countedMm', cut: '2' });
    expect(refusal([neck], keep(1000), discard(10, 11))).toEqual({ pointer: '/landmarkCountedMm', cut: '2' });
    expect(refusal([neck], keep(1000), discard(10, -1))).toEqual({ pointer: '/landmarkCountedMm', cut: '2' });
    expect(refusal([], keep(1000), discard(10, 5))).toEqual({ pointer: '/landmarkCountedMm', cut: '2' });
    expect(texts.slice(2, 4).every((text) => text.includes('outside the 10 mm of the piece'))).toBe(true);
    expect(texts.at(-1)).toContain('no other is left.');
    // No landmark can have passed so soon.
    expect(refusal([neck], keep(1000), discard(500, 100))).toEqual({ pointer: '/landmarkCountedMm', cut: '2' });
    expect(texts.at(-1)).toContain('the next one is 28.89 m further on.');
    // 0.99·c − 10 = 100,000 gives 101,020.2: less may be a count that is too high.
    expect(refusal([], keep(101_021))).toEqual({ pointer: '/countedMm', cut: '1' });
    expect(planCuts({ ...request, stretches: [] }, [keep(101_020)]).steps).toEqual([]);
    const exact = { wheelShare: 0, lengthScaleShare: 0, slipMm: 0 };
    expect(planCuts({ ...request, stretches: [], countError: exact }, [keep(100_000)]).steps).toEqual([]);
    expect(planCuts({ ...request, stretches: [] }, [keep(0)]).coils).toHaveLength(1);
    expect(refusal([], keep(100_000), keep(1))).toEqual({ pointer: null, cut: '2' });
  });
});
