import { beforeEach, describe, expect, it } from 'vitest';
import { Problem } from '../../../server/problem/problem.ts';
import { type CutPlan, planCuts } from '../../../server/strand/plan/cut-plan.ts';
import { type CutRequest, stretchOfSection } from '../../../server/strand/plan/cut-request.ts';
import type { DoneCut } from '../../../server/strand/plan/done-cuts.ts';
import type { Section } from '../../../server/strand/section.ts';
import { casesOf } from '../../long-check.ts';

/** 100 m with a neck 30 m and a blob 60 m from the outer end, each short. */
const request: CutRequest = {
  spoolName: 'Moss 7',
  woundMm: 100_000,
  stretches: [
    { fromMm: 69_970, toMm: 70_000, fate: 'discard', kind: 'neck', peakMm: 1.48, peakAtMm: 69_980 },
    { fromMm: 39_988, toMm: 40_000, fate: 'discard', kind: 'blob', peakMm: 2.12, peakAtMm: 39_995 },
  ],
  shortestCoilMm: 5000,
  objective: 'mostLength',
  doubtful: 'cut',
  unknown: 'cut',
  countError: { wheelShare: 0.01, lengthScaleShare: 0, slipMm: 10 },
  densityGPerCm3: 1.24,
  meanDiameterMm: 1.75,
};

function problemOf(act: () => unknown): Problem {
  try {
    act();
  } catch (thrown) {
    if (thrown instanceof Problem) return thrown;
    throw thrown;
  }
  throw new Error('nothing was thrown');
}

describe('a plan for two bad places', () => {
  let plan: CutPlan;
  beforeEach(() => {
    plan = planCuts(request);
  });

  it('counts from the outer end and describes each step in a sentence', () => {
    expect(plan.steps.map((s) => s.action)).toEqual([
      'unwindAndKeep',
      'discard',
      'unwindAndKeep',
      'discard',
      'unwindAndKeep',
    ]);
    // The neck starts 30 m in: c / 0.99 + 10 = 30,000 gives 29,690.1.
    expect(plan.steps[0]?.countedMm).toBe(29_690);
    expect(plan.steps[0]?.sentence).toBe('Unwind 29.69 m, then cut: coil Moss 7 A.');
    // It ends 30,030 in. Unseen, two counts have an error by then: 0.99·c − 20 = 30,030 gives 30,353.5.
    expect(plan.steps[1]?.countedMm).toBe(30_354 - 29_690);
    // Once its peak at 30,020 has passed, only the 10 mm behind it are counted: 0.99·c − 10 = 10 gives 20.2.
    expect(plan.steps[1]?.landmarks).toMatchObject([{ afterCutMm: 330, thenMm: 21, kind: 'neck' }]);
    expect(plan.steps[1]?.toOuterMm).toBe(30_041);
    expect(plan.steps[1]?.marginBeforeMm).toBe(310);
    expect(plan.steps[1]?.marginAfterMm).toBe(11);
    expect(plan.steps[4]?.cutAfter).toBe(false);
  });

  it('restarts the margins after each landmark, and says what is lost if none is confirmed', () => {
    const whole = planCuts({ ...request, stretches: [request.stretches[1]!] });
    expect(plan.steps[3]!.marginBeforeMm).toBeLessThan(whole.steps[1]!.marginBeforeMm * 0.6);
    // Without them: 313 mm more behind the neck; before the blob c / 0.99 + 30 = 60,000 instead of about half of it.
    const unseenMm = 29_690 + (59_370 - 30_354) + (100_000 - 60_659);
    expect(plan.totals.landmarkGainMm).toBe(plan.totals.keptMm - unseenMm);
    expect(plan.explanation).toContain('Confirm the landmarks as they pass');
    const invisible = request.stretches.map((one) => ({ ...one, kind: 'drift' as const }));
    expect(planCuts({ ...request, stretches: invisible }).totals).toMatchObject({
      keptMm: unseenMm,
      landmarkGainMm: 0,
    });
  });

  it('says what to see next', () => {
    // 30,020 mm in two counts: 303 mm of the length and twice 10 mm of slip may be off.
    expect(plan.steps[1]?.landmarks[0]?.sentence).toBe(
      'Between 6 mm and 654 mm, you should see a thin spot of 1.48 mm, 30 mm long.',
    );
    expect(plan.steps[3]?.landmarks[0]?.kind).toBe('blob');
    expect(plan.steps.map(({ landmarks }) => landmarks.length)).toEqual([0, 1, 0, 1, 0]);
  });

  it('names and weighs the coils', () => {
    expect(plan.coils.map((c) => c.name)).toEqual(['Moss 7 A', 'Moss 7 B', 'Moss 7 C']);
    // 1 kg of 1.75 mm PLA at 1.24 g/cm³ is 335.28 m.
    expect(plan.coils[0]?.grams).toBeCloseTo(29.69 / 0.33528, 2);
    expect(plan.explanation).toContain('3 coils');
    expect(plan.explanation).toContain('4 cuts');
    expect(plan.totals.keptMm + plan.totals.discardedMm).toBe(100_000);
  });

  it('numbers its steps, and says how far each count may be off', () => {
    expect(plan.steps.map(({ ordinal }) => ordinal)).toEqual([1, 2, 3, 4, 5]);
    // 29,690 mm in one count: 299.9 + 10; 30,354 mm in two: 306.6 + 20.
    expect(plan.steps.slice(0, 2).map(({ countErrorMm }) => countErrorMm)).toEqual([310, 327]);
    expect(plan.steps[0]).toMatchObject({ marginBeforeMm: 0, marginAfterMm: 0 });
    expect(plan.steps[4]).toMatchObject({ sentence: expect.stringMatching(/, down to the core: coil Moss 7 C\.$/) });
    expect(plan.steps[1]?.landmarks[0]).toMatchObject({ peakMm: 1.48, lengthMm: 30, peakAtOuterMm: 30_020 });
    // A blob at the very end: 10 mm in one count may be off by 10.1 mm.
    const first = { fromMm: 99_985, toMm: 99_995, fate: 'discard', kind: 'blob', peakAtMm: 99_990 } as const;
    const [step] = planCuts({ ...request, stretches: [first] }).steps;
    expect(step?.action).toBe('discard');
    expect(step?.landmarks).toMatchObject([
      { afterCutMm: 10, peakMm: null, sentence: 'Within the first 21 mm, you should see a blob, 10 mm long.' },
    ]);
  });

  it('says how sure length and mass of a coil are, as far as they are known', () => {
    const [coil] = planCuts({ ...request, countError: { wheelShare: 0.01, lengthScaleShare: 0.02, slipMm: 10 } }).coils;
    expect(coil?.lengthUncertaintyMm).toBeCloseTo(0.02 * coil!.lengthMm, 9);
    expect(coil?.gramsUncertainty).toBeCloseTo(0.02 * coil!.grams!, 9);
    const [measured] = planCuts({ ...request, massShare: 0.05 }).coils;
    expect(measured?.gramsUncertainty).toBeCloseTo(0.05 * measured!.grams!, 9);
    for (const unknown of [{ densityGPerCm3: null }, { meanDiameterMm: null }])
      expect(planCuts({ ...request, ...unknown }).coils[0]).toMatchObject({ grams: null, gramsUncertainty: null });
  });

  it('goes on with two letters after Z, and keeps the names that users gave', () => {
    const stretches = Array.from({ length: 29 }, (_, i) => ({
      fromMm: 3000 * (i + 1),
      toMm: 3000 * (i + 1) + 100,
      fate: 'discard' as const,
    }));
    const exact = { wheelShare: 0, lengthScaleShare: 0, slipMm: 0 };
    const coilNames = [{ name: 'for the vase', fromMm: 87_100, toMm: 100_000 }];
    const { coils } = planCuts({ ...request, stretches, shortestCoilMm: 1000, countError: exact, coilNames });
    expect(coils.map(({ name }) => name).slice(24)).toEqual([
      'Moss 7 Y',
      'Moss 7 Z',
      'Moss 7 AA',
      'Moss 7 AB',
      'Moss 7 AC',
      'Moss 7 AD',
    ]);
    expect(coils[0]).toMatchObject({ name: 'for the vase', named: true });
    expect(coils[1]).toMatchObject({ name: 'Moss 7 B', named: false });
  });

  it('makes fewer cuts when that keeps enough', () => {
    const fewer = planCuts({ ...request, objective: 'fewestCuts', leastKeptShare: 0.6 });
    expect(fewer.totals.cuts).toBeLessThan(plan.totals.cuts);
    expect(fewer.totals.keptMm).toBeGreaterThanOrEqual(0.6 * plan.totals.keptMm);
    expect(fewer.explanation).toContain('more cuts would keep');
  });
});

describe('a plan after cuts at the rewinder', () => {
  it('corrects the remaining steps when a coil was cut short', () => {
    const after = planCuts(request, [{ action: 'keep', countedMm: 20_000 }]);
    expect(after.coils[0]).toMatchObject({ state: 'cut', lengthMm: 20_000, condition: 'clean' });
    // The next cut still falls where the neck starts, less the slip of another count.
    expect(after.steps[0]?.toOuterMm).toBe(29_680);
    expect(after.steps[0]?.countedMm).toBe(9680);
  });

  it('marks a coil as spoilt when the cut came too late, and does not count it as kept', () => {
    const after = planCuts(request, [{ action: 'keep', countedMm: 30_010 }]);
    expect(after.coils[0]?.condition).toBe('spoilt');
    expect(after.warnings.join(' ')).toContain('Moss 7 A');
    expect(after.totals.keptMm).toBeLessThan(70_000);
    // The rest of the neck still has to go.
    expect(after.steps[0]?.action).toBe('discard');
  });

  it('marks a coil as in doubt when the cut came within the error of the count', () => {
    const after = planCuts(request, [{ action: 'keep', countedMm: 29_900 }]);
    expect(after.coils[0]?.condition).toBe('inDoubt');
  });

  it('corrects the count where the landmark was seen', () => {
    // The cut really fell at 29,750: the neck's peak, 30,020 in, passed 270 mm after it.
    const done: DoneCut[] = [
      { action: 'keep', countedMm: 29_690 },
      { action: 'discard', countedMm: 651, landmarkCountedMm: 270 },
    ];
    const after = planCuts(request, done);
    expect(after.coils[0]?.lengthMm).toBe(29_750);
    expect(after.donePieces[1]).toMatchObject({ fromOuterMm: 29_750, toOuterMm: 30_401 });
    expect(after.steps[0]?.fromOuterMm).toBe(30_401);
  });

  it('plans a stretch again that may not have been cut out', () => {
    const after = planCuts(request, [
      { action: 'keep', countedMm: 29_690 },
      { action: 'discard', countedMm: 400 },
    ]);
    expect(after.steps[0]).toMatchObject({ action: 'discard', fromOuterMm: 30_090 });
    // Another count, another slip: 0.99·c − 30 = 30,030 gives 30,363.6.
    expect(after.steps[0]?.toOuterMm).toBe(30_364);
  });

  it('refuses more strand than was wound, a negative count and a landmark outside its piece', () => {
    const refused = (cut: DoneCut): Problem => problemOf(() => planCuts(request, [cut]));
    expect(refused({ action: 'keep', countedMm: 120_000 })).toMatchObject({ code: 'bad-cut' });
    expect(refused({ action: 'keep', countedMm: 120_000 }).message).toContain('120.00 m');
    expect(refused({ action: 'keep', countedMm: -1 }).code).toBe('bad-cut');
    expect(refused({ action: 'discard', countedMm: 10, landmarkCountedMm: 20 }).code).toBe('bad-cut');
    expect(
      problemOf(() =>
        planCuts(request, [
          { action: 'keep', countedMm: 100_000, reachedEnd: true },
          { action: 'keep', countedMm: 1 },
        ]),
      ).code,
    ).toBe('bad-cut');
  });
});

describe('the margins of a plan', () => {
  /** Stretches of 10 mm, 3 m apart. */
  const margins = (...kinds: ('blob' | 'offTolerance')[]) => {
    const woundMm = 3000 * (kinds.length + 1);
    const stretches = kinds.map((kind, i) => {
      const toMm = woundMm - 3000 * (i + 1);
      return { fromMm: toMm - 10, toMm, fate: 'discard' as const, kind, peakAtMm: toMm - 10 };
    });
    const countError = { wheelShare: 0, lengthScaleShare: 0, slipMm: 2 };
    const { steps } = planCuts({ ...request, woundMm, stretches, countError, shortestCoilMm: 1000 });
    return steps
      .filter(({ action }) => action === 'discard')
      .map(({ marginBeforeMm, marginAfterMm }) => [marginBeforeMm, marginAfterMm]);
  };
  const invisible = (count: number) => Array<'offTolerance'>(count).fill('offTolerance');

  it.each([1, 12, 210])('grow with each of the counts for %i stretches that cannot be seen', (count) => {
    const expected = invisible(count).map((_, i) => [2 * (2 * i + 1), 2 * (2 * i + 2)]);
    expect(margins(...invisible(count))).toEqual(expected);
  });

  it.each([12, 210])('grow again after a landmark, over %i stretches', (count) => {
    const expected = invisible(count).map((_, i) => [2 * (2 * i + 2), 2 * (2 * i + 3)]);
    for (const before of [0, 1]) {
      const found = margins(...invisible(before), 'blob', ...invisible(count)).slice(before);
      expect(found[0]).toEqual([2 * (2 * before + 1), 2]);
      expect(found.slice(1)).toEqual(expected);
    }
  });
});

describe('a plan for hundreds of stretches', () => {
  const stretches = Array.from({ length: 300 }, (_, i) => ({
    fromMm: 300 * i + 150,
    toMm: 300 * i + 158,
    fate: 'discard' as const,
    kind: i % 3 === 0 ? ('offTolerance' as const) : ('blob' as const),
    peakAtMm: 300 * i + 154,
  }));
  const countError = { wheelShare: 0.0005, lengthScaleShare: 0, slipMm: 1 };
  const many: CutRequest = { ...request, woundMm: 90_000, stretches, shortestCoilMm: 100, countError };

  it('assumes more counts than there can be, so its coils stay clean whatever is confirmed', () => {
    for (const objective of casesOf(['mostLength', 'longestCoil', 'prints'], 1)) {
      const done: DoneCut[] = [];
      const first = planCuts({ ...many, objective, printsMm: [200, 210] });
      expect(first.totals.keptMm).toBeGreaterThan(40_000);
      expect(first.prints.every(({ coil }) => coil !== null)).toBe(true);
      let plan = first;
      for (let k = 0; k < 6; k++) {
        const step = plan.steps[0]!;
        const seen = k % 4 < 2 ? step.landmarks.at(-1) : undefined;
        done.push({
          action: step.action === 'discard' ? 'discard' : 'keep',
          countedMm: seen === undefined ? step.countedMm : seen.afterCutMm + seen.thenMm,
          ...(seen === undefined ? {} : { landmarkCountedMm: seen.afterCutMm }),
        });
        plan = planCuts(first.request, done);
        expect(plan.donePieces.every(({ condition }) => condition === 'clean')).toBe(true);
      }
    }
  });
});

describe('invalid requests', () => {
  it('are refused with what is wrong and what to do', () => {
    expect(problemOf(() => planCuts({ ...request, woundMm: 0 }))).toMatchObject({ code: 'wrong-state' });
    expect(problemOf(() => planCuts({ ...request, woundMm: 0 })).message).toContain('empty');
    expect(problemOf(() => planCuts({ ...request, woundMm: -5 })).code).toBe('bad-cut');
    expect(problemOf(() => planCuts({ ...request, woundMm: Number.NaN })).code).toBe('bad-cut');
    expect(problemOf(() => planCuts({ ...request, shortestCoilMm: 0 })).code).toBe('bad-cut');
    expect(problemOf(() => planCuts({ ...request, meanDiameterMm: -1 })).message).toContain('mean diameter');
    const backwards = { fromMm: 20, toMm: 10, fate: 'discard' } as const;
    expect(problemOf(() => planCuts({ ...request, stretches: [backwards] })).message).toBe(
      'Stretch 1 ends (10 mm) before it begins (20 mm).',
    );
    const wild = { wheelShare: 0.5, lengthScaleShare: 0, slipMm: 0 };
    expect(problemOf(() => planCuts({ ...request, countError: wild })).remedy).toContain('0.2');
  });
});

describe('a request at the edge of what is possible', () => {
  const countError = (wheelShare: number, lengthScaleShare: number, slipMm = 10) => ({
    countError: { wheelShare, lengthScaleShare, slipMm },
  });
  const stretch = (fromMm: number, toMm: number) => ({ stretches: [{ fromMm, toMm, fate: 'discard' as const }] });

  it.each<Partial<CutRequest>>([
    countError(0.1, 0.1, 0),
    countError(0, 0.2),
    { leastKeptShare: 1 },
    { woundMm: 0.6, shortestCoilMm: 0.1 },
    { densityGPerCm3: null, meanDiameterMm: null },
    stretch(500, 500),
  ])('is planned: %j', (change) => {
    expect(planCuts({ ...request, stretches: [], ...change }).coils.length).toBeGreaterThan(0);
  });

  it.each<[string, Partial<CutRequest>]>([
    ['error of the count', countError(-0.001, 0.01)],
    ['error of the count', countError(0.01, -0.001)],
    ['error of the count', countError(Number.NaN, 0)],
    ['error of the count', countError(0.11, 0.1)],
    ['slip', countError(0, 0, -1)],
    ['slip', countError(0, 0, Number.POSITIVE_INFINITY)],
    ['share to keep is 0', { leastKeptShare: 0 }],
    ['share to keep is 1.01', { leastKeptShare: 1.01 }],
    ['density', { densityGPerCm3: 0 }],
    ['density', { densityGPerCm3: Number.POSITIVE_INFINITY }],
    ['shortest coil', { shortestCoilMm: Number.POSITIVE_INFINITY }],
    ['wound length', { woundMm: Number.POSITIVE_INFINITY }],
    ['is empty', { woundMm: 0.4 }],
    ['Stretch 1 is at', stretch(Number.NaN, 10)],
    ['Stretch 1 is at', stretch(10, Number.POSITIVE_INFINITY)],
  ])('is refused, naming the fault: %s', (fault, change) => {
    expect(problemOf(() => planCuts({ ...request, ...change })).message).toContain(fault);
  });
});

describe('a plan for a spool of which 40 % was not measured', () => {
  const unknown = { fromMm: 30_000, toMm: 70_000, fate: 'unknown', kind: 'unknown' } as const;

  it('keeps no unmeasured strand when that is cut out, and says how much it is', () => {
    const plan = planCuts({ ...request, stretches: [unknown] });
    expect(plan.totals.unknownMm).toBe(40_000);
    expect(plan.coils.every((c) => c.unknownMm === 0)).toBe(true);
    expect(plan.warnings[0]).toContain('40.00 m (40 %)');
  });

  it('warns when unmeasured strand is kept', () => {
    const plan = planCuts({ ...request, stretches: [unknown], unknown: 'keep' });
    expect(plan.totals).toMatchObject({ keptMm: 60_000, unknownMm: 40_000, discardedMm: 0, cuts: 0 });
    expect(plan.coils[0]?.unknownMm).toBe(40_000);
    expect(plan.warnings[0]).toContain('may hide blobs');
  });

  it('does not use an unmeasured stretch as a landmark, so the margins keep growing after it', () => {
    const blob = { fromMm: 10_000, toMm: 10_010, fate: 'discard', kind: 'blob' } as const;
    const blind = planCuts({ ...request, stretches: [unknown, blob] });
    const lost = { fromMm: 30_000, toMm: 30_100, fate: 'discard', kind: 'strandLost' } as const;
    const seen = planCuts({ ...request, stretches: [unknown, lost, blob] });
    expect(blind.steps.at(-2)!.marginBeforeMm).toBeGreaterThan(3 * seen.steps.at(-2)!.marginBeforeMm);
  });
});

describe('sections as stretches', () => {
  const section: Section = {
    id: 'm1',
    kind: 'blob',
    fromMm: 5100,
    toMm: 5112,
    fromTimeMs: 0,
    toTimeMs: 1,
    peakMm: 2,
    peakAtMm: 5104,
    volumeBeyondMm3: 1,
    certainty: 'sure',
    verdict: 'discard',
    note: '',
    origin: 'measured',
    open: false,
  };

  const placeOf = (gaugeMm: number) => gaugeMm - 5000;

  it('are relative to the start of the spool, and good ones are left out', () => {
    expect(stretchOfSection(section, placeOf)).toMatchObject({
      fromMm: 100,
      toMm: 112,
      peakAtMm: 104,
      fate: 'discard',
    });
    expect(stretchOfSection({ ...section, kind: 'unknown', verdict: 'doubtful' }, placeOf)?.fate).toBe('unknown');
    expect(stretchOfSection({ ...section, kind: 'unknown', verdict: 'discard' }, placeOf)?.fate).toBe('discard');
    expect(stretchOfSection({ ...section, verdict: 'doubtful' }, placeOf)?.fate).toBe('doubtful');
    expect(stretchOfSection({ ...section, peakAtMm: null }, placeOf)?.peakAtMm).toBeNull();
    expect(stretchOfSection({ ...section, verdict: 'good' }, placeOf)).toBeNull();
    expect(stretchOfSection(section, placeOf)).not.toHaveProperty('doubt');
    expect(stretchOfSection({ ...section, doubt: 'nearLimit' }, placeOf)?.doubt).toBe('nearLimit');
  });
});
