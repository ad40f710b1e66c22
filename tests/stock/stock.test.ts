/** What is left of a coil, where a print jammed, which coil fits, which promises were kept, and how much became good strand. */
import { describe, expect, it } from 'vitest';
import type { StrandUse } from '../../server/entities/strand-use.ts';
import { Problem } from '../../server/problem/problem.ts';
import { requirePossible } from '../../server/stock/check-use.ts';
import { coilStock, type WholeStrand } from '../../server/stock/coil-stock.ts';
import { judgedAtMark } from '../../server/stock/judged-at-mark.ts';
import { promisesKept, shareInterval } from '../../server/stock/promises.ts';
import { type StrandOnOffer, whichFits } from '../../server/stock/which-fits.ts';
import { yields } from '../../server/stock/yields.ts';

/** 36 m of 1.75 mm strand of 1.24 g/cm³: 2.9825 g/m (geometry). */
const COIL: WholeStrand = {
  lengthMm: 36_000,
  lengthUncertaintyMm: 360,
  gramsPerMm: 0.0029825,
  gramsShare: 0.03,
  slicerGramsPerMm: 0.0029825,
};

let nextId = 1;
function use(kind: StrandUse['kind'], used: StrandUse['used'] = null, more: Partial<StrandUse> = {}): StrandUse {
  const id = nextId++;
  const place = { fromGaugeMm: 0, toGaugeMm: 36_000 };
  return {
    id,
    kind,
    used,
    place,
    feeds: 'inner',
    print: null,
    printer: null,
    called: 'fit',
    atMs: id,
    who: 'Kim',
    ...more,
  };
}
const m = (amount: number) => ({ amount, unit: 'metres' }) as const;
const g = (amount: number) => ({ amount, unit: 'grams' }) as const;
const percent = (amount: number) => ({ amount, unit: 'percent' }) as const;
const ALL = { unit: 'all' } as const;

function refusal(stated: StrandUse, before: readonly StrandUse[] = []): Problem | null {
  try {
    requirePossible(stated, before, COIL, 'R3-1 A');
    return null;
  } catch (thrown) {
    if (thrown instanceof Problem) return thrown;
    throw thrown;
  }
}

describe('what is left of a coil', () => {
  it('is its length while nothing was used, and less by each use, with a growing uncertainty', () => {
    expect(coilStock(COIL, [])).toMatchObject({
      leftMm: 36_000,
      leftUncertaintyMm: 360,
      isAtMost: false,
      usedUp: null,
    });
    const one = coilStock(COIL, [use('used', m(10))]);
    expect(one.leftMm).toBe(26_000);
    // The causes are independent (GUM, JCGM 100:2008, 5.1.2): 5 % of 10 m and the 0.36 m of the length.
    expect(one.leftUncertaintyMm).toBeCloseTo(Math.hypot(500, 360), 6);
    const two = coilStock(COIL, [use('used', m(10)), use('used', m(10))]);
    expect(two.leftMm).toBe(16_000);
    expect(two.leftUncertaintyMm).toBeCloseTo(Math.hypot(1000, 360), 6);
  });

  it('takes grams: 29.8 g of this strand are 10 m', () => {
    expect(coilStock(COIL, [use('used', g(29.825))]).leftMm).toBeCloseTo(26_000, 0);
  });

  it('is never negative, and exactly nothing after “all of it”', () => {
    expect(coilStock(COIL, [use('used', m(36)), use('used', m(1))]).leftMm).toBe(0);
    const all = coilStock(COIL, [use('used', m(10)), use('used', ALL, { who: 'Ada' })]);
    expect(all).toMatchObject({ leftMm: 0, leftUncertaintyMm: 0, isAtMost: false, usedUp: { who: 'Ada' } });
  });

  it('counts a finished print once: by its amount, or by what it needs as a whole', () => {
    const started = use('started', null, { print: m(12) });
    expect(coilStock(COIL, [started])).toMatchObject({ leftMm: 36_000, isAtMost: true });
    expect(coilStock(COIL, [started, use('finished')])).toMatchObject({ leftMm: 24_000, isAtMost: false });
    expect(coilStock(COIL, [started, use('finished', m(13))])).toMatchObject({ leftMm: 23_000, isAtMost: false });
    expect(coilStock(COIL, [use('finished', m(13))]).leftMm).toBe(23_000);
    expect(coilStock(COIL, [use('finished')])).toMatchObject({ leftMm: 36_000, isAtMost: true });
  });

  it('a flaw on the way does not use the strand before it twice', () => {
    const steps = [use('started', null, { print: m(12) }), use('flawed', percent(50)), use('finished')];
    expect(coilStock(COIL, steps.slice(0, 2)).leftMm).toBe(30_000);
    const done = coilStock(COIL, steps);
    expect(done.leftMm).toBe(24_000);
    expect(done.prints).toMatchObject([
      { outcome: 'flawed', isRunning: false, marks: [{ kind: 'flawed', atMm: 6000 }] },
    ]);
  });

  it('a flaw seen after the print belongs to it', () => {
    const { prints, leftMm } = coilStock(COIL, [use('finished', m(12)), use('flawed', m(3))]);
    expect(prints).toHaveLength(1);
    expect(prints[0]).toMatchObject({ outcome: 'flawed', marks: [{ atMm: 3000 }] });
    expect(leftMm).toBe(24_000);
  });

  it('a new print ends one whose end was not noted', () => {
    const { prints, isAtMost } = coilStock(COIL, [use('started'), use('started'), use('finished', m(4))]);
    expect(prints.map(({ outcome, isRunning }) => [outcome, isRunning])).toEqual([
      ['open', false],
      ['finished', false],
    ]);
    expect(isAtMost).toBe(true);
  });
});

describe('the place of a jam', () => {
  it('counts from the end that feeds, after all that was used before', () => {
    const steps = [use('used', m(10)), use('started', null, { print: m(20) }), use('jammed', percent(40))];
    const { prints, leftMm } = coilStock(COIL, steps);
    const [mark] = prints[0]!.marks;
    expect(mark).toMatchObject({ kind: 'jammed', atMm: 18_000 });
    // 5 % of 18 m, and the 1 % of the length scale.
    expect(mark!.uncertaintyMm).toBeCloseTo(Math.hypot(900, 180), 6);
    expect(leftMm).toBe(18_000);
  });

  it('is not known if it was not stated, and the strand left is then an upper limit', () => {
    const { prints, isAtMost } = coilStock(COIL, [use('jammed')]);
    expect(prints[0]).toMatchObject({ outcome: 'jammed', marks: [{ atMm: null }] });
    expect(isAtMost).toBe(true);
  });

  it('finds what was judged there, within its uncertainty, nearest first', () => {
    const place = (fromFeedMm: number, toFeedMm: number) => ({ fromFeedMm, toFeedMm });
    const places = [place(0, 50), place(17_200, 17_230), place(18_500, 18_520), place(19_100, 19_120)];
    const mark = { kind: 'jammed', id: 1, atMm: 18_000, uncertaintyMm: 920 } as const;
    expect(judgedAtMark(mark, places)).toEqual([places[2], places[1]]);
    expect(judgedAtMark({ ...mark, atMm: null }, places)).toEqual([]);
  });
});

describe('what cannot be', () => {
  it('a coil used up twice', () => {
    expect(refusal(use('used', m(2)), [use('used', ALL, { who: 'Ada' })])).toMatchObject({
      code: 'wrong-state',
      message: 'R3-1 A is used up: Ada recorded that nothing is left.',
    });
  });

  it('more used than there is', () => {
    expect(refusal(use('used', m(32)), [use('used', m(32))])).toMatchObject({
      code: 'bad-length',
      message: 'R3-1 A has about 4.0 m left, not 32 m.',
      pointer: '/used/amount',
    });
    // Within the uncertainty it is possible.
    expect(refusal(use('used', m(5)), [use('used', m(32))])).toBeNull();
    expect(refusal(use('finished', g(400)))?.message).toBe('R3-1 A has about 36 m left, not 134 m.');
  });

  it('an amount in a unit that does not suit it', () => {
    expect(refusal(use('used', percent(50)))?.pointer).toBe('/used/unit');
    expect(refusal(use('jammed', percent(50)))?.pointer).toBe('/print');
    expect(refusal(use('jammed', percent(50)), [use('started', null, { print: m(10) })])).toBeNull();
    expect(refusal(use('jammed', percent(140), { print: m(10) }))?.message).toBe('140 % of a print is impossible.');
    expect(refusal(use('jammed', ALL))?.code).toBe('bad-length');
    expect(refusal(use('used'))?.pointer).toBe('/used');
  });
});

describe('which strand fits a print', () => {
  const coil = (code: string, metres: number, more: Partial<StrandOnOffer> = {}): StrandOnOffer => ({
    code,
    name: code,
    leftMm: metres * 1000,
    leftUncertaintyMm: 100,
    isAtMost: false,
    fitness: 'fit',
    longestPieceMm: null,
    nominalMm: 1.75,
    densityGPerCm3: 1.24,
    ...more,
  });

  it('is the one with least left over; fit before fit after cutting before not known, and never one that is not fit', () => {
    const shelf = [
      coil('long', 90),
      coil('unknown', 50.5, { fitness: 'unknown' }),
      coil('cut first', 80, { fitness: 'fitAfterCutting', longestPieceMm: 51_000 }),
      coil('short piece', 80, { fitness: 'fitAfterCutting', longestPieceMm: 30_000 }),
      coil('bad', 60, { fitness: 'notFit' }),
      coil('right', 55),
    ];
    const { fits, others, sentence } = whichFits(shelf, m(48));
    expect(fits.map(({ code }) => code)).toEqual(['right', 'long', 'cut first', 'unknown']);
    expect(others.map(({ code, answer }) => [code, answer])).toEqual([
      ['short piece', 'tooShort'],
      ['bad', 'notFit'],
    ]);
    // 48 m × 1.03 + 0.5 m = 49.94 m.
    expect(sentence).toBe('Take right: 5.1 ± 0.1 m will be left.');
  });

  it('gives the reserve as the reason where a coil is just too short', () => {
    const { others, sentence } = whichFits([coil('A', 49)], m(48));
    expect(others[0]!.sentence).toBe(
      'Just too short: 49.0 ± 0.1 m left, but the print needs 48.0 m and 1.9 m in reserve for purging, skirt and a failed first layer.',
    );
    expect(sentence).toMatch(/^No coil is long enough/);
  });

  it('takes grams as a slicer counts them: 150 g are 50.3 m of 1.75 mm strand of 1.24 g/cm³', () => {
    // 335.28 m/kg (geometry); 50.29 m × 1.03 + 0.5 m = 52.30 m.
    expect(whichFits([coil('A', 52.1)], g(150)).others[0]!.answer).toBe('tooShort');
    expect(whichFits([coil('A', 52.5)], g(150)).fits[0]!.answer).toBe('fits');
  });

  it('says “may be” within the uncertainty, and where the last print was not recorded', () => {
    expect(whichFits([coil('A', 50, { leftUncertaintyMm: 900 })], m(48)).fits[0]!.answer).toBe('perhaps');
    const { fits } = whichFits([coil('A', 70, { isAtMost: true }), coil('B', 95)], m(48));
    expect(fits.map(({ code, answer }) => [code, answer])).toEqual([
      ['B', 'fits'],
      ['A', 'perhaps'],
    ]);
  });

  it('of an empty shelf says so', () => {
    expect(whichFits([], m(48)).sentence).toBe('The shelf is empty.');
  });
});

describe('promises kept', () => {
  it('counts what became of the prints by what their coils were called', () => {
    const good = Array.from({ length: 10 }, () => coilStock(COIL, [use('finished', m(4))]).prints).flat();
    const jam = coilStock(COIL, [use('jammed', m(4)), use('started')]).prints;
    const [fit, , notFit] = promisesKept([...good, ...jam]);
    expect(fit).toMatchObject({ called: 'fit', printedWell: 10, jammed: 1, flawed: 0, notKnown: 1 });
    expect(fit!.jams!.upper).toBeGreaterThan(1 / 11);
    expect(notFit).toMatchObject({ called: 'notFit', printedWell: 0, jams: null });
  });

  it('gives the exact interval of Clopper and Pearson', () => {
    // R: binom.test(10, 100)$conf.int 0.04900469 0.17622260; 0 of 3: 1 − 0.025^(1/3) = 0.7075982 (closed form).
    const ten = shareInterval(10, 100);
    expect(ten.lower).toBeCloseTo(0.04900469, 7);
    expect(ten.upper).toBeCloseTo(0.1762226, 7);
    expect(shareInterval(0, 3)).toMatchObject({ lower: 0, upper: expect.closeTo(0.7075982, 7) });
    expect(shareInterval(3, 3)).toMatchObject({ lower: expect.closeTo(0.2924018, 7), upper: 1 });
  });
});

describe('yield', () => {
  const run = (runId: number, preparation: string, fedKg: number, woundKg: number, goodKg: number) => ({
    runId,
    preparation,
    fedKg,
    woundKg,
    goodKg,
  });
  it('adds up runs of the same preparation, best first', () => {
    const rows = yields([
      run(1, 'dried 4 h', 1, 0.9, 0.5),
      run(2, 'dried 8 h', 1, 0.9, 0.8),
      run(3, 'dried 4 h', 3, 2.7, 2.7),
    ]);
    expect(rows.map(({ preparation, goodShare }) => [preparation, goodShare])).toEqual([
      ['dried 4 h', 0.8],
      ['dried 8 h', 0.8],
    ]);
    expect(rows[0]).toMatchObject({ runIds: [1, 3], fedKg: 4, isImpossible: false });
  });
  it('marks a run that wound more than it was fed, and puts it last', () => {
    const rows = yields([run(1, 'wrong', 0.2, 0.9, 0.9), run(2, 'right', 1, 0.9, 0.4)]);
    expect(rows.map(({ preparation, isImpossible }) => [preparation, isImpossible])).toEqual([
      ['right', false],
      ['wrong', true],
    ]);
  });
});
