import { describe, expect, it } from 'vitest';
import { Problem } from '../../../server/problem/problem.ts';
import { planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import type { Section } from '../../../server/strand/section.ts';
import { cleanPieces, lengthsOfFates } from '../../../server/strand/verdict/clean-pieces.ts';
import { coilVerdict } from '../../../server/strand/verdict/coil-verdict.ts';
import { flowError } from '../../../server/strand/verdict/flow-error.ts';
import { fitCaution, fitPrint, printAmountOf } from '../../../server/strand/verdict/print-fit.ts';
import { checkPrinterProfile, type PrinterProfile } from '../../../server/strand/verdict/printer-profile.ts';
import {
  firstTrouble,
  type RunVerdict,
  type SpoolOfRun,
  verdictOfRun,
} from '../../../server/strand/verdict/run-verdict.ts';
import {
  afterCuts,
  figureReasons,
  type SpoolVerdict,
  spoolVerdict,
} from '../../../server/strand/verdict/spool-verdict.ts';
import { sectionOf } from '../section-of.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

const profile: PrinterProfile = { name: 'Heron', hotendLimitMm: 1.9, smallestFeedableMm: 1.6, toleranceMm: 0.05 };
const about = { name: 'spool Moss 7', nominalMm: 1.75, profile };
const verdictOn = (...stretches: PlanStretch[]): SpoolVerdict =>
  spoolVerdict({ ...about, plan: planCuts({ ...WHOLE_SPOOL, stretches }) });
const stretch = (fromMm: number, toMm: number, fate: PlanStretch['fate']): PlanStretch => ({ fromMm, toMm, fate });

function problemOf(act: () => unknown): Problem | null {
  try {
    act();
  } catch (thrown) {
    if (thrown instanceof Problem) return thrown;
    throw thrown;
  }
  return null;
}

describe('a verdict', () => {
  it('is fit, fit after cutting or not fit', () => {
    expect(verdictOn()).toMatchObject({ fitness: 'fit', sentence: 'Spool Moss 7 is fit to print on Heron.' });
    const one = verdictOn(stretch(40_000, 40_020, 'discard'));
    expect(one.fitness).toBe('fitAfterCutting');
    expect(one.afterCutting).toMatchObject({ coils: 2, cuts: 2 });
    expect(one.longestCleanPiece?.lengthMm).toBe(59_980);
    const many = Array.from({ length: 25 }, (_, i) => stretch(i * 4000, i * 4000 + 10, 'discard'));
    const none = verdictOn(...many);
    expect(none.fitness).toBe('notFit');
    expect(none.reasons.join(' ')).toContain('No piece of at least 5.00 m');
  });

  it('is not known for a spool of which 40 % was not measured', () => {
    const unknown = [stretch(10_000, 50_000, 'unknown')];
    const verdict = verdictOn(...unknown);
    expect(verdict.fitness).toBe('unknown');
    expect(verdict.sentence).toBe(
      'It is not known whether spool Moss 7 is fit to print on Heron: 40 % of it was not reliably measured.',
    );
    expect(verdict.afterCutting?.keptMm).toBeLessThan(60_000);
    expect(verdictOn(stretch(0, 100_000, 'unknown')).fitness).toBe('unknown');
    // That is the reason, too, where without this strand no piece would be long enough.
    const between = Array.from({ length: 12 }, (_, i) => [
      stretch(8000 * i, 8000 * i + 10, 'discard'),
      stretch(8000 * i + 3500, 8000 * i + 5000, 'unknown'),
    ]);
    expect(verdictOn(...between.flat()).sentence).toContain('18 % of it was not reliably measured');
    // A discarded stretch in it changes nothing: the unmeasured strand may be bad too.
    expect(verdictOn(...unknown, stretch(70_000, 70_010, 'discard')).fitness).toBe('unknown');
  });

  it('is not fit where even good unmeasured strand would not leave a coil', () => {
    const stretches = Array.from({ length: 25 }, (_, i) => [
      stretch(i * 4000, i * 4000 + 10, 'discard'),
      stretch(i * 4000 + 2000, i * 4000 + 3500, 'unknown'),
    ]).flat();
    expect(verdictOn(...stretches).fitness).toBe('notFit');
  });

  it('cuts out doubtful strand, and says so', () => {
    const verdict = verdictOn(stretch(40_000, 40_500, 'doubtful'));
    expect(verdict.fitness).toBe('fitAfterCutting');
    expect(verdict.reasons[0]).toContain('in doubt');
  });

  it('suggests a flow setting where the mean is off', () => {
    const flow = flowError({ from: 0, step: 10, values: new Float64Array(1000).fill(1.8) }, 1.75);
    expect(figureReasons(null, 0.05, flow).join(' ')).toContain('set it to 94.5 %');
    expect(figureReasons(0.987, 0.05, null)).toEqual(['98.7 % of what was measured lies within ±0.05 mm.']);
    expect(figureReasons(0.99999, 0.05, null)).toEqual(['99.9 % of what was measured lies within ±0.05 mm.']);
    expect(figureReasons(1, 0.05, null)).toEqual(['All of what was measured lies within ±0.05 mm.']);
  });

  it('says what the plan keeps, before and after cuts', () => {
    const plan = planCuts({ ...WHOLE_SPOOL, stretches: [stretch(40_000, 40_020, 'discard')] });
    const before = spoolVerdict({ ...about, plan });
    expect(before.afterCutting).toMatchObject({ keptMm: plan.totals.keptMm, coils: 2, cuts: 2 });
    const wrong = planCuts(plan.request, [{ action: 'keep', countedMm: 70_000 }]);
    const after = afterCuts(before, wrong, about.name, profile.name);
    expect(after.afterCutting).toMatchObject({ keptMm: wrong.totals.keptMm, coils: 1 });
    expect(after).toEqual(spoolVerdict({ ...about, plan: wrong }));
  });

  it('treats a coil as a separate spool', () => {
    const doubtful = { ...WHOLE_SPOOL, stretches: [stretch(40_000, 40_500, 'doubtful')] };
    const plan = planCuts(doubtful);
    const clean = coilVerdict(plan, plan.coils[0]!, about, 0.99, null);
    expect(clean).toMatchObject({ fitness: 'fit', sentence: 'Coil Moss 7 A is fit to print on Heron.' });
    expect(clean.reasons.at(-1)).toContain('99.0 %');
    // Doubtful strand that is kept is mentioned.
    const kept = planCuts({ ...doubtful, doubtful: 'keep' });
    expect(coilVerdict(kept, kept.coils[0]!, about, null, null).sentence).toBe(
      'Coil Moss 7 A is fit to print on Heron after cutting: 100.00 m stays in one coil, 500 mm of that in doubt.',
    );
  });

  it('is not known where the caller gives a reason', () => {
    const { fitness, sentence, reasons } = spoolVerdict({
      ...about,
      plan: planCuts(WHOLE_SPOOL),
      unknownBecause: 'its readings are missing',
    });
    expect(fitness).toBe('unknown');
    // It does not claim that every diameter is within the limits, either.
    expect(reasons).toEqual([]);
    expect(sentence).toContain('is fit to print on Heron: its readings are missing.');
  });

  it('is not known for a coil that may have a bad stretch at an end', () => {
    const stretches = [stretch(60_000, 60_020, 'discard')];
    // The first cut fell so near the stretch that the count cannot show on which side.
    const plan = planCuts({ ...WHOLE_SPOOL, stretches }, [{ action: 'keep', countedMm: 39_970 }]);
    const [coil] = plan.coils;
    expect(coil?.condition).toBe('inDoubt');
    const { fitness, sentence, reasons } = coilVerdict(plan, coil!, about, null, null);
    expect([fitness, sentence]).toEqual([
      'unknown',
      'It is not known whether coil Moss 7 A is fit to print on Heron: a bad stretch may be at one of its ends.',
    ]);
    expect(reasons.join(' ')).not.toContain('surely within');
  });

  it('gives doubtful strand as the reason, not the little that was not measured', () => {
    const verdict = verdictOn(stretch(0, 98_000, 'doubtful'), stretch(99_000, 99_800, 'unknown'));
    expect(verdict.fitness).toBe('unknown');
    expect(verdict.sentence).toContain('is fit to print on Heron: for too much of it the gauge cannot tell.');
  });

  it('judges a coil by the stretches within it, by its own length', () => {
    // From the outer end: a coil of 49.9 m, a blob, and the rest with 500 mm that were not measured.
    const stretches = [
      { ...stretch(50_000, 50_020, 'discard'), kind: 'blob', peakAtMm: 50_010 } as const,
      stretch(10_000, 10_500, 'unknown'),
    ];
    const plan = planCuts({ ...WHOLE_SPOOL, stretches, unknown: 'keep' });
    const [outer, inner] = plan.coils.map((coil) => coilVerdict(plan, coil, about, null, null));
    expect(outer).toMatchObject({ fitness: 'fit', reasons: [expect.stringContaining('Every measured diameter')] });
    expect(inner?.reasons).toEqual([
      `500 mm (${(50_000 / plan.coils[1]!.lengthMm).toFixed(1)} %) was not reliably measured.`,
    ]);
    expect(inner?.longestCleanPiece?.lengthMm).toBe(plan.coils[1]!.lengthMm - 10_500);
    // A stretch that only touches the end of a coil is not in it.
    const { fromMm, toMm } = plan.coils[0]!;
    const within = stretch(fromMm + 20_000, fromMm + 20_020, 'discard');
    const touching = [stretch(fromMm - 20, fromMm, 'doubtful'), stretch(toMm, toMm + 20, 'discard')];
    const verdictWith = (...some: PlanStretch[]) =>
      coilVerdict({ ...plan, request: { ...plan.request, stretches: some } }, plan.coils[0]!, about, null, null);
    expect(verdictWith(...touching)).toMatchObject({ fitness: 'fit', afterCutting: null });
    expect(verdictWith(within, ...touching)).toEqual(verdictWith(within));
  });

  it('judges a coil that was cut too late as a spool of that strand alone', () => {
    const blob = (fromMm: number) =>
      ({ fromMm, toMm: fromMm + 100, fate: 'discard', kind: 'blob', peakAtMm: fromMm + 90 }) as const;
    const plan = planCuts({ ...WHOLE_SPOOL, stretches: [blob(80_000), blob(65_000), blob(20_000)] }, [
      { action: 'keep', countedMm: 50_000 },
    ]);
    const [coil] = plan.coils;
    expect(coil).toMatchObject({ fromMm: 50_000, condition: 'spoilt' });
    const alone = planCuts({ ...WHOLE_SPOOL, woundMm: 50_000, stretches: [blob(30_000), blob(15_000)] });
    expect(coilVerdict(plan, coil!, about, null, null)).toEqual(
      spoolVerdict({ ...about, name: `coil ${coil!.name}`, plan: alone }),
    );
    // A stretch without a peak has none in the coil, either.
    const drifts = (fromMm: number) => ({ ...blob(fromMm), peakAtMm: null });
    const drifting = planCuts(
      { ...plan.request, stretches: [blob(65_000), drifts(80_000), drifts(55_000)] },
      plan.done,
    );
    expect(coilVerdict(drifting, drifting.coils[0]!, about, null, null)).toEqual(
      spoolVerdict({
        ...about,
        name: `coil ${coil!.name}`,
        plan: planCuts({ ...alone.request, stretches: [blob(15_000), drifts(30_000), drifts(5000)] }),
      }),
    );
    // Where its length is uncertain, so are the places of its stretches.
    const about70m = (shiftMm: number) => [{ fromMm: 70_000 - shiftMm, toMm: 72_000 - shiftMm, offMm: 1000 }];
    const uncertain = planCuts({ ...plan.request, uncertain: about70m(0) }, plan.done);
    const verdict = coilVerdict(uncertain, uncertain.coils[0]!, about, null, null);
    expect(verdict).toEqual(
      spoolVerdict({
        ...about,
        name: `coil ${coil!.name}`,
        plan: planCuts({ ...alone.request, uncertain: about70m(50_000) }),
      }),
    );
    expect(verdict.afterCutting!.keptMm).toBeLessThan(coilVerdict(plan, coil!, about, null, null).afterCutting!.keptMm);
  });

  it('accepts limits at the very edge of the tolerance, and names the field of one beyond it', () => {
    const fault = (change: Partial<PrinterProfile>, nominalMm = 1.75) => {
      const problem = problemOf(() => checkPrinterProfile({ ...profile, ...change }, nominalMm));
      return problem === null ? null : [problem.code, problem.pointer];
    };
    expect(fault({})).toBeNull();
    // 1.75 + 0.14 is 1.8900000000000001.
    expect(fault({ toleranceMm: 0.14, hotendLimitMm: 1.89, smallestFeedableMm: 1.61 })).toBeNull();
    expect(fault({ smallestFeedableMm: 0 })).toBeNull();
    expect(fault({ hotendLimitMm: 1.799 })).toEqual(['bad-printer', '/hotendLimitMm']);
    expect(fault({ smallestFeedableMm: 1.701 })).toEqual(['bad-printer', '/smallestFeedableMm']);
    for (const smallestFeedableMm of [-0.1, Number.NaN, Number.NEGATIVE_INFINITY])
      expect(fault({ smallestFeedableMm })).toEqual(['bad-printer', '/smallestFeedableMm']);
    expect(fault({ hotendLimitMm: Number.NaN })).toEqual(['bad-printer', '/hotendLimitMm']);
    for (const toleranceMm of [0, -0.05, Number.NaN])
      expect(fault({ toleranceMm })).toEqual(['bad-printer', '/toleranceMm']);
    for (const nominalMm of [0, Number.NaN])
      expect(fault({ smallestFeedableMm: 0 }, nominalMm)).toEqual(['bad-printer', null]);
    expect(problemOf(() => checkPrinterProfile({ ...profile, hotendLimitMm: 1.7 }, 1.75))?.message).toBe(
      "Printer Heron: the hotend limit (1.7 mm) is below the tolerance band's upper edge (1.800 mm).",
    );
    expect(problemOf(() => checkPrinterProfile({ ...profile, smallestFeedableMm: 1.8 }, 1.75))?.message).toBe(
      "Printer Heron: the smallest feedable diameter (1.8 mm) is above the tolerance band's lower edge (1.700 mm).",
    );
  });
});

describe('the verdict on a run', () => {
  const spool: SpoolOfRun = {
    ordinal: 1,
    woundMm: 100_000,
    unknownMm: 0,
    fitness: 'fit',
    sections: [],
    isCut: false,
  };
  const blob = sectionOf('blob');
  const cut: SpoolOfRun = { ...spool, fitness: 'fitAfterCutting', sections: [sectionOf('neck'), blob, blob] };
  const possible = sectionOf('blob', { certainty: 'inDoubt', verdict: 'doubtful' });
  const accepted = sectionOf('blob', { verdict: 'good' });
  const unmeasured: SpoolOfRun = { ...spool, ordinal: 2, unknownMm: 4000, fitness: 'unknown' };

  it.each<[RunVerdict['quality'], string, SpoolOfRun[]]>([
    [null, 'Nothing was wound.', []],
    [null, 'Nothing was wound.', [{ ...spool, woundMm: 0, fitness: null }]],
    ['good', 'No bad stretch was found.', [spool]],
    ['good', 'No bad stretch was found.', [{ ...spool, sections: [accepted] }]],
    ['goodAfterCutting', '2 blobs and 1 thin spot.', [cut]],
    ['goodAfterCutting', '2 blobs and 1 thin spot.', [spool, cut, { ...spool, woundMm: 0, fitness: null }]],
    ['goodAfterCutting', '2 blobs and 1 thin spot, all cut out.', [{ ...cut, isCut: true }]],
    ['goodAfterCutting', '2 blobs and 1 thin spot.', [cut, { ...spool, fitness: 'notFit' }]],
    // A spool that is empty, or not judged, counts for nothing.
    ['good', 'No bad stretch was found.', [spool, { ...unmeasured, woundMm: 0 }, { ...cut, fitness: null }]],
    ['goodAfterCutting', '2 blobs and 1 thin spot.', [{ ...cut, isCut: true }, spool]],
    [
      'goodAfterCutting',
      '2 doubtful stretches and 1 stretch not measured.',
      [
        {
          ...cut,
          sections: [
            sectionOf('neck', { verdict: 'doubtful' }),
            sectionOf('marked', { verdict: 'doubtful' }),
            sectionOf('unknown', { verdict: 'doubtful' }),
          ],
        },
      ],
    ],
    [
      'goodAfterCutting',
      '1 possible blob, 1 other bad stretch and 1 doubtful stretch.',
      [
        {
          ...cut,
          sections: [possible, sectionOf('marked'), sectionOf('outOfRound', { verdict: 'doubtful' }), accepted],
        },
      ],
    ],
    [
      'notUsable',
      '3 blobs: no piece that is long enough is free of them.',
      [{ ...cut, fitness: 'notFit', sections: [blob, blob, blob] }],
    ],
    ['notKnown', '4.00 m was not reliably measured and may hide blobs.', [unmeasured]],
    [
      'notKnown',
      '4.00 m on spool 2 was not reliably measured and may hide blobs. Found: 2 blobs and 1 thin spot.',
      [cut, unmeasured],
    ],
    [
      'notKnown',
      '8.00 m on spools 2, 3 was not reliably measured and may hide blobs. Found: 1 possible blob.',
      [
        { ...unmeasured, sections: [possible, sectionOf('unknown', { verdict: 'doubtful' })] },
        { ...unmeasured, ordinal: 3 },
      ],
    ],
    ['notKnown', 'Too much is within the uncertainty of the gauge.', [{ ...unmeasured, unknownMm: 0 }]],
  ])('is %s: %s', (quality, reason, spools) => {
    expect(verdictOfRun(false, spools)).toEqual({ quality, reason });
  });

  it('is not given for a run that has only begun', () => {
    expect(verdictOfRun(true, [])).toEqual({ quality: null, reason: 'Nothing has been wound yet.' });
    const short: SpoolOfRun = { ...cut, fitness: 'notFit' };
    expect(verdictOfRun(true, [short])).toEqual({ quality: null, reason: 'No good piece is long enough yet.' });
    expect(verdictOfRun(true, [cut]).quality).toBe('goodAfterCutting');
  });
});

describe('the first trouble of a run', () => {
  const min = 60_000;
  const heater = { title: 'Zone 1 (Feed): losing temperature', atMs: 100 * min, zone: 1 };
  const thin = (atMin: number, lengthMm = 2000) =>
    sectionOf('offTolerance', { toMm: 1000 + lengthMm, fromTimeMs: atMin * min });
  const then = (...sections: Section[]) => firstTrouble([heater], sections)?.followedBy;

  it('is the earliest, with the number of later ones', () => {
    const later = { title: 'Gauge frozen', atMs: 101 * min, zone: null };
    expect(firstTrouble([later, heater], [])).toEqual({ ...heater, more: 1, followedBy: null });
    expect(firstTrouble([heater, later], [])).toEqual({ ...heater, more: 1, followedBy: null });
    expect(firstTrouble([], [thin(101)])).toBeNull();
  });

  it('is followed by a lasting change of the strand within half an hour, unless the strand was like that before', () => {
    expect(then(thin(112), thin(104))).toEqual({ kind: 'offTolerance', atMs: 104 * min });
    expect(then(thin(131))).toBeNull();
    expect(then(thin(104, 40))).toBeNull();
    expect(then(thin(104), thin(90))).toBeNull();
    expect(then(thin(104), thin(60))).not.toBeNull();
    // Nor is it what a user marked, what has no time, or another kind of stretch that was there before.
    expect(then(sectionOf('marked', { toMm: 9000, fromTimeMs: 104 * min }))).toBeNull();
    expect(then(sectionOf('offTolerance', { toMm: 9000, fromTimeMs: null }))).toBeNull();
    const oval = sectionOf('outOfRound', { toMm: 9000, fromTimeMs: 90 * min });
    expect(then(thin(104), oval)).toEqual({ kind: 'offTolerance', atMs: 104 * min });
    expect(then(sectionOf('unknown', { toMm: 9000, fromTimeMs: 104 * min }))).toBeNull();
  });
});

describe('clean pieces and lengths', () => {
  it('are sorted by length, and count overlaps once, by the worst', () => {
    const stretches = [stretch(10, 20, 'doubtful'), stretch(15, 30, 'discard'), stretch(25, 40, 'unknown')];
    expect(cleanPieces(100, stretches).map((p) => [p.fromMm, p.toMm])).toEqual([
      [40, 100],
      [0, 10],
    ]);
    expect(lengthsOfFates(100, stretches)).toEqual({ discard: 15, unknown: 10, doubtful: 5 });
  });

  it('do not depend on the order of the stretches; of equal pieces the first comes first', () => {
    const stretches = [stretch(60, 70, 'discard'), stretch(100, 120, 'discard'), stretch(30, 40, 'doubtful')];
    const expected = [
      [0, 30],
      [70, 100],
      [40, 60],
    ];
    for (const order of [stretches, stretches.toReversed()])
      expect(cleanPieces(100, order).map((p) => [p.fromMm, p.toMm])).toEqual(expected);
  });
});

describe('flow over windows', () => {
  it('finds the worst decimetre, metre and ten metres', () => {
    const values = new Float64Array(5000).fill(1.75);
    values.fill(1.85, 2000, 2010);
    const flow = flowError({ from: 500, step: 10, values }, 1.75)!;
    const [tenth, metre, ten] = flow.worst;
    const step = (1.85 / 1.75) ** 2 - 1;
    expect(tenth?.most).toMatchObject({ fromMm: 20_500 });
    expect(tenth?.most?.error).toBeCloseTo(step, 10);
    expect(metre?.most?.error).toBeCloseTo(step / 10, 10);
    expect(ten?.most?.error).toBeCloseTo(step / 100, 10);
    expect(flow.mean).toBeCloseTo(step / 500, 10);
  });

  it('finds the thinnest window as well, and both again after the correction', () => {
    const values = new Float64Array(300).fill(1.75);
    values.fill(1.85, 100, 110);
    values.fill(1.65, 280, 290);
    const flow = flowError({ from: 500, step: 10, values }, 1.75)!;
    const [tenth] = flow.worst;
    expect(tenth).toMatchObject({ most: { fromMm: 1500 }, least: { fromMm: 3300 } });
    expect(tenth?.least?.error).toBeCloseTo((1.65 / 1.75) ** 2 - 1, 10);
    const [corrected] = flow.worstAfterCorrection;
    for (const end of ['most', 'least'] as const) {
      expect(corrected?.[end]?.error).toBeCloseTo((1 + tenth![end]!.error) / (1 + flow.mean) - 1, 10);
      expect(corrected?.[end]?.fromMm).toBe(tenth![end]!.fromMm);
    }
    // Ten metres do not fit on three.
    expect([flow.worst[2], flow.worstAfterCorrection[2]]).toEqual(
      Array(2).fill({ windowMm: 10_000, most: null, least: null }),
    );
  });

  it('counts a window from nine tenths of measured strand on, and the first of several alike', () => {
    const values = new Float64Array(30).fill(1.8);
    values.fill(Number.NaN, 10, 11);
    const worst = (from: number, to: number) =>
      flowError({ from: 0, step: 10, values: values.slice(from, to) }, 1.75)?.worst[0]?.most;
    expect(worst(0, 30)?.fromMm).toBe(0);
    expect(worst(5, 15)?.error).toBeCloseTo((1.8 / 1.75) ** 2 - 1, 10);
    values.fill(Number.NaN, 11, 12);
    expect(worst(5, 15)).toBeNull();
    expect(flowError({ from: 0, step: 10, values: new Float64Array(5).fill(Number.NaN) }, 1.75)).toBeNull();
  });

  it('has the spread of a series worked by hand, and none for one value', () => {
    // Of 2 mm, 3 and 4 mm are (3/2)² − 1 = 1.25 and 3 too much: mean 2.125, s = 1.75/√2.
    const flow = flowError({ from: 0, step: 10, values: Float64Array.of(3, 4) }, 2)!;
    expect(flow.mean).toBeCloseTo(2.125, 12);
    expect(flow.sd).toBeCloseTo(1.75 / Math.SQRT2, 12);
    expect(flowError({ from: 0, step: 10, values: Float64Array.of(3) }, 2)?.sd).toBe(0);
    expect(() => flowError({ from: 0, step: 10, values: Float64Array.of(3) }, 0)).toThrow(RangeError);
  });
});

describe('a print', () => {
  const coils = [
    { name: 'A', lengthMm: 29_000, lengthUncertaintyMm: 580 },
    { name: 'B', lengthMm: 12_000, lengthUncertaintyMm: 240 },
    { name: 'C', lengthMm: 60_000, lengthUncertaintyMm: 1200 },
  ];
  const options = { diameterMm: 1.75, densityGPerCm3: 1.24 };

  const metres = (amount: number) => fitPrint(coils, { amount, unit: 'metres' }, options);

  it('takes the shortest coil that is long enough', () => {
    expect(metres(20)).toMatchObject({ coil: 'A', longEnough: ['A', 'C'], perhaps: [], together: null });
    // 3 % and 500 mm in reserve.
    expect(metres(20)).toMatchObject({ withReserveMm: 21_100, leftOverMm: 7900, leftOverUncertaintyMm: 580 });
    expect(metres(20).sentence).toBe(
      'The print needs 21.1 m (63 g with reserve): take coil A; 7.9 ± 0.6 m will be left.',
    );
    // 100 g of PLA are 33.53 m.
    const grams = fitPrint(coils, { amount: 100, unit: 'grams' }, options);
    expect(grams.needMm).toBeCloseTo(33_528, 0);
    expect(grams.coil).toBe('C');
  });

  it('takes a coil only if that is long enough even with the error of its length', () => {
    // 28,420 mm are sure; 27,106 mm and the reserve need as much.
    expect(metres(27.1)).toMatchObject({ coil: 'A', perhaps: [] });
    expect(metres(27.2)).toMatchObject({ coil: 'C', perhaps: ['A'] });
    const lone = fitPrint(coils.slice(0, 1), { amount: 28, unit: 'metres' }, options);
    expect(lone).toMatchObject({ coil: null, perhaps: ['A'], together: null });
    expect(lone.sentence).toBe(
      'The print needs 29.3 m (88 g with reserve): coil A may be long enough, but its length, 29.0 ± 0.6 m, is not certain enough. Measure a stretch by tape to find out.',
    );
    const measured = { name: 'A', lengthMm: 29_000, lengthUncertaintyMm: 0 };
    expect(fitPrint([measured], { amount: 20, unit: 'metres' }, options).sentence).toContain('7.9 m will be left.');
    expect(fitPrint([measured], { amount: 28, unit: 'metres' }, options)).toMatchObject({ coil: null, perhaps: [] });
  });

  it.each([
    ['its single readings were deleted, and it was wound under other limits', []],
    ['40 % of it was not reliably measured', [stretch(10_000, 50_000, 'unknown')]],
    ['for too much of it the gauge cannot tell', [stretch(0, 99_000, 'doubtful')]],
  ])('may not come out well: %s', (why, stretches) => {
    const plan = planCuts({ ...WHOLE_SPOOL, stretches });
    const verdict = spoolVerdict({ ...about, plan, ...(stretches.length === 0 ? { unknownBecause: why } : {}) });
    const caution = fitCaution(verdict, false, false)!;
    expect(caution).toContain(`: ${why}. `);
    expect(caution.includes('not reliably measured')).toBe(why.includes('not reliably measured'));
  });

  it('comes with a warning about a growing spool, and about coils left out', () => {
    expect(fitCaution(verdictOn(), true, true)).toContain('still being wound');
    expect(fitCaution(verdictOn(), false, true)).toContain('left out');
    expect(fitCaution(verdictOn(), false, false)).toBeNull();
  });

  it('suggests a change of filament, or says that it does not fit', () => {
    expect(metres(80)).toMatchObject({ coil: null, together: ['C', 'A'] });
    expect(metres(80).sentence).toContain(
      'no coil is long enough on its own; C, A together are, with a change of filament.',
    );
    expect(metres(200)).toMatchObject({ coil: null, together: null });
    expect(metres(200).sentence).toContain('all coils together are too short.');
    // 101 m less their errors are not enough for 96 m and the reserve.
    expect(metres(96).together).toBeNull();
    expect(metres(95).together).toEqual(['C', 'A', 'B']);
    expect(problemOf(() => metres(0))).toMatchObject({
      code: 'bad-length',
      message: 'The length or mass of the print is not above zero.',
      pointer: '/metres',
    });
    expect(metres(1_000_000).coil).toBeNull();
    expect(problemOf(() => metres(Number.POSITIVE_INFINITY))?.code).toBe('bad-length');
    expect(problemOf(() => metres(1e308))?.message).toBe('The length or mass of the print is too large.');
  });

  it('is given in metres or in grams', () => {
    expect(printAmountOf(20, undefined)).toEqual({ amount: 20, unit: 'metres' });
    expect(printAmountOf(undefined, 63)).toEqual({ amount: 63, unit: 'grams' });
    const refused = (metres?: number, grams?: number) => problemOf(() => printAmountOf(metres, grams));
    expect(refused()).toMatchObject({ code: 'bad-length', pointer: '/metres' });
    expect(refused()?.message).toContain('missing');
    expect(refused(20, 63)).toMatchObject({ code: 'bad-length', pointer: '/grams' });
    expect(refused(20, 63)?.message).toContain('Both');
  });

  it('accepts strand that is exactly long enough', () => {
    // 20 m, 3 % and 500 mm are 21.1 m.
    const of = (...lengths: [number, number][]) =>
      fitPrint(
        lengths.map(([lengthMm, lengthUncertaintyMm], i) => ({ name: `${i}`, lengthMm, lengthUncertaintyMm })),
        { amount: 20, unit: 'metres' },
        options,
      );
    expect(of([21_200, 100])).toMatchObject({ coil: '0', perhaps: [], together: null });
    expect(of([21_000, 100])).toMatchObject({ coil: null, perhaps: ['0'] });
    expect(of([20_999, 100])).toMatchObject({ coil: null, perhaps: [] });
    expect(of([15_000, 0], [6100, 0], [5000, 0]).together).toEqual(['0', '1']);
    expect(of([15_000, 0], [6100, 0]).together).toEqual(['0', '1']);
  });
});
