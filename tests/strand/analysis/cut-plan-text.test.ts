import { describe, expect, it } from 'vitest';
import { planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

/** 100 m; stretches by metres from the outer end. */
const bad = (outerM: number, more: Partial<PlanStretch> = {}): PlanStretch => ({
  fromMm: 100_000 - outerM * 1000,
  toMm: 100_000 - outerM * 1000 + 100,
  fate: 'discard',
  kind: 'offTolerance',
  ...more,
});
const request: CutRequest = {
  ...WHOLE_SPOOL,
  countError: { wheelShare: 0, lengthScaleShare: 0, slipMm: 0 },
};
const explained = (change: Partial<CutRequest>): string => planCuts({ ...request, ...change }).explanation;

describe('the explanation of a plan', () => {
  it('says what is kept, in how many coils, with how many cuts', () => {
    expect(explained({})).toBe('Nothing has to be cut out: all 100.00 m stays in one coil.');
    expect(explained({ stretches: [bad(3)] })).toMatch(
      /^97\.00 m of 100\.00 m stays in one coil, with one cut; 2\.90 m of/,
    );
    expect(explained({ stretches: [bad(50)] })).toMatch(
      /^99\.90 m of 100\.00 m stays in 2 coils, with 2 cuts; 0 mm of/,
    );
    const all = Array.from({ length: 33 }, (_, i) => bad(3 * i + 3));
    expect(explained({ stretches: all })).toMatch(
      /^None of the 100\.00 m can be kept: no clean stretch is 5\.00 m long/,
    );
  });

  it('counts unmeasured strand only where it stays in a coil', () => {
    const unknown = (fromMm: number, toMm: number): PlanStretch => ({ fromMm, toMm, fate: 'unknown' });
    expect(explained({ stretches: [unknown(0, 100_000)] })).toMatch(/^None of the 100\.00 m can be kept/);
    expect(explained({ stretches: [unknown(0, 4000)] })).toMatch(
      /^96\.00 m of 100\.00 m stays in one coil, with one cut/,
    );
    expect(explained({ stretches: [bad(50), unknown(0, 4000)], unknown: 'keep' })).toMatch(
      /^99\.90 m of 100\.00 m stay/,
    );
  });

  it('counts no coil that holds a bad stretch', () => {
    const cutTooLate = planCuts({ ...request, stretches: [bad(50)] }, [{ action: 'keep', countedMm: 60_000 }]);
    expect(cutTooLate.coils).toHaveLength(2);
    expect(cutTooLate.explanation).toMatch(/^40\.00 m of 100\.00 m stays in one coil, with one cut/);
  });

  it('says why, by the aim', () => {
    const stretches = [bad(10), bad(50), bad(92)];
    expect(explained({ stretches })).toContain(
      'No other choice of cuts keeps more, and none keeps as much with fewer.',
    );
    expect(explained({ stretches, objective: 'longestCoil' })).toContain('leaves a longer coil than 41.90 m.');
    expect(explained({ stretches, objective: 'fewestCuts', leastKeptShare: 1 })).toMatch(/keeps more\.$/);
    // Without the last coil of 8 m there is one cut less.
    expect(explained({ stretches, objective: 'fewestCuts', leastKeptShare: 0.9 })).toContain(
      'No choice with fewer cuts keeps 90 % of the most that could be kept; more cuts would keep up to 8.00 m more.',
    );
    expect(explained({ stretches, objective: 'prints', printsMm: [1000] })).not.toContain('No other choice');
  });

  it('mentions landmarks only where confirming them keeps more', () => {
    const countError = { wheelShare: 0.01, lengthScaleShare: 0, slipMm: 10 };
    const seen = [bad(40, { kind: 'blob' }), bad(80, { kind: 'blob' })];
    expect(explained({ stretches: seen, countError })).toContain('which cost up to');
    expect(explained({ stretches: seen })).not.toContain('landmark');
    expect(explained({ stretches: [bad(40)], countError })).not.toContain('landmark');
  });

  it('says how many of a list of prints there is a coil for', () => {
    const stretches = [bad(50)];
    const of = (...printsMm: number[]) => explained({ stretches, printsMm, objective: 'prints' });
    expect(of(49_000, 49_000)).toContain('There is a coil for every print on the list.');
    expect(of(49_000, 48_000, 3000)).toContain('There is a coil for 2 of the 3 prints.');
    expect(of(60_000)).toMatch(/There is no coil for the print\.$/);
    expect(of(60_000, 51_000)).toMatch(/There is no coil for any of the 2 prints\.$/);
    for (const fits of [of(60_000), of(60_000, 40_000)]) expect(fits).not.toContain('with reserve, more than');
    expect(of(60_000, 50_000)).toContain('The prints need 110.00 m with reserve, more than the 100.00 m on the spool.');
    expect(of()).not.toContain('print');
    // Two prints of 25 m fit on one coil; cut coils count, too.
    const plan = planCuts({ ...request, stretches, printsMm: [30_000, 19_000, 50_000] }, [
      { action: 'keep', countedMm: 49_000 },
    ]);
    expect(plan.prints.map(({ coil }) => coil)).toEqual(['Moss 7 A', 'Moss 7 A', 'Moss 7 B']);
    // A coil that may hold a bad stretch is none for a print.
    const spoilt = planCuts({ ...request, stretches, printsMm: [50_010] }, [{ action: 'keep', countedMm: 50_020 }]);
    expect(spoilt.prints[0]?.coil).toBeNull();
  });

  it('takes into account that the length scale may be off', () => {
    const countError = { wheelShare: 0, lengthScaleShare: 0.02, slipMm: 0 };
    const of = (mm: number) => planCuts({ ...request, printsMm: [mm], countError }).prints[0];
    expect(of(98_000)).toEqual({ needMm: 98_000 / 0.98, coil: 'Moss 7 A' });
    expect(of(98_001)?.coil).toBeNull();
  });
});

describe('the warnings of a plan', () => {
  it('are about a growing spool and unmeasured strand', () => {
    const unknown = (toMm: number) => bad(50, { toMm: 50_000 + toMm, fate: 'unknown', kind: 'unknown' });
    const warnings = (change: Partial<CutRequest>) => planCuts({ ...request, ...change }).warnings;
    expect(warnings({})).toEqual([]);
    expect(warnings({ stillWinding: true })[0]).toContain('still being wound');
    expect(warnings({ stretches: [unknown(5000)] })).toEqual([]);
    expect(warnings({ stretches: [unknown(5001)] })).toEqual([
      '5.00 m (5 %) of the spool was not reliably measured and is cut out: it may have been good.',
    ]);
    expect(warnings({ stretches: [unknown(6000)], unknown: 'keep' })).toEqual([
      '6.00 m (6 %) of the spool was not reliably measured, and 6.00 m of that stays in the coils and may hide blobs.',
    ]);
  });
});

describe('a list of prints', () => {
  it('is refused if it is too long, or a print needs nothing', () => {
    expect(() => planCuts({ ...request, printsMm: Array.from({ length: 11 }, () => 1000) })).toThrow(
      'The list has 11 prints.',
    );
    expect(() => planCuts({ ...request, printsMm: Array.from({ length: 10 }, () => 1000) })).not.toThrow();
    expect(() => planCuts({ ...request, printsMm: [1000, 0] })).toThrow('Print 2 needs 0 mm of strand.');
    expect(() => planCuts({ ...request, printsMm: [Number.POSITIVE_INFINITY] })).toThrow('Print 1 needs');
  });
});
