import { describe, expect, it } from 'vitest';
import { planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

/** Counted without error, so that pieces end where stretches do. */
const exact = { wheelShare: 0, lengthScaleShare: 0, slipMm: 0 };
const planned = (stretches: readonly PlanStretch[], change: Partial<CutRequest> = {}) => {
  const { steps, coils } = planCuts({ ...WHOLE_SPOOL, stretches, countError: exact, ...change });
  const pieces = (some: readonly { readonly doubts: (typeof coils)[number]['doubts'] }[]) =>
    some.map(({ doubts }) =>
      doubts.map(({ kind, doubt, fromOuterMm, toOuterMm }) => [kind, doubt, fromOuterMm, toOuterMm]),
    );
  return { steps: pieces(steps), coils: pieces(coils) };
};
const stretch = (fromMm: number, toMm: number, more: Partial<PlanStretch> = {}): PlanStretch => ({
  fromMm,
  toMm,
  fate: 'doubtful',
  kind: 'blob',
  ...more,
});

describe('a stretch in doubt', () => {
  const [inner, outer] = [stretch(40_000, 40_100), stretch(70_000, 70_200, { doubt: 'oneReading' })];
  const [INNER, OUTER] = [
    ['blob', null, 59_900, 60_000],
    ['blob', 'oneReading', 29_800, 30_000],
  ];

  it('is named in the step that cuts it out, and in no coil', () => {
    expect(planned([inner, outer])).toEqual({ steps: [[], [OUTER], [], [INNER], []], coils: [[], [], []] });
  });

  it('is named in the coil that keeps it, in the order of unwinding', () => {
    const doubtful = 'keep';
    const both = [OUTER, INNER];
    expect(planned([inner, outer], { doubtful })).toEqual({ steps: [both], coils: [both] });
    const bad = stretch(50_000, 50_010, { fate: 'discard' });
    expect(planned([inner, bad, outer], { doubtful }).coils).toEqual([[OUTER], [INNER]]);
  });

  it('is in no piece that it only touches, wherever between two millimetres it ends', () => {
    for (const woundMm of [100_000, 100_000.4, 100_000.5])
      for (const fromMm of [40_000, 40_000.1, 40_000.6]) {
        const { steps, coils } = planned([stretch(fromMm, fromMm + 100)], { woundMm });
        expect(steps.map((doubts) => doubts.length)).toEqual([0, 1, 0]);
        expect(coils).toEqual([[], []]);
      }
  });

  it('is one that may be good or has a reason for doubt, not one that is surely bad or was not measured', () => {
    const named = (more: Partial<PlanStretch>) =>
      planned([{ ...stretch(40_000, 40_100), ...more }])
        .steps.flat()
        .map(([kind, doubt]) => [kind, doubt]);
    expect(named({ kind: 'neck' })).toEqual([['neck', null]]);
    expect(named({ fate: 'discard', doubt: 'nearLimit' })).toEqual([['blob', 'nearLimit']]);
    expect(named({ fate: 'unknown', kind: 'unknown', doubt: 'gaugeShifted' })).toEqual([['unknown', 'gaugeShifted']]);
    expect(named({ fate: 'discard' })).toEqual([]);
    expect(named({ fate: 'unknown', kind: 'unknown' })).toEqual([]);
  });
});
