import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { movedBy, pieces, positionMm, requestOf, ribbonPlan, rowOf } from '../../web/spool/ribbon-plan.ts';

describe('the ribbon as a page of text', () => {
  it('has 10 m per row on a wide page and 5 m on a phone', () => {
    expect(ribbonPlan(298_500, 880)).toMatchObject({ rowMm: 10_000, rows: 30 });
    expect(ribbonPlan(298_500, 340)).toMatchObject({ rowMm: 5000, rows: 60 });
  });

  it('has shorter rows for a short spool, and longer ones for a very long one', () => {
    expect(ribbonPlan(8000, 880).rowMm).toBe(1000);
    expect(ribbonPlan(3_000_000, 880).rowMm).toBe(20_000);
    expect(ribbonPlan(0, 880).rows).toBe(1);
  });

  it('requests every row once, with at most 4000 columns per request', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1, max: 2e6, noNaN: true }),
        fc.integer({ min: 200, max: 3000 }),
        (lengthMm, width) => {
          const plan = ribbonPlan(lengthMm, width, 2);
          let at = 0;
          for (let group = 0; group < Math.ceil(plan.rows / plan.rowsPerRequest); group += 1) {
            const ask = requestOf(plan, group);
            expect(ask.fromMm).toBe(at);
            expect(ask.columns).toBeLessThanOrEqual(4000);
            expect(ask.columns).toBe(Math.round((ask.toMm - ask.fromMm) / plan.rowMm) * plan.columnsPerRow);
            at = ask.toMm;
          }
          expect(at).toBeGreaterThanOrEqual(lengthMm - 1e-6);
          // As the spool grows by a row, the request for the rows before stays the same.
          const grown = { ...plan, rows: plan.rows + 1 };
          expect(requestOf(grown, 0)).toEqual(requestOf(plan, 0));
        },
      ),
    );
  });

  it('gives each row its own columns of the answer', () => {
    const plan = { ...ribbonPlan(60_000, 880), columnsPerRow: 4, rowsPerRequest: 3 };
    const d = Array.from({ length: 12 }, (_, i) => i);
    const window = { signals: { d: { min: d, max: d, mean: d } } } as unknown as WindowView;
    expect(rowOf(plan, window, 4).min).toEqual([4, 5, 6, 7]);
    expect(rowOf(plan, window, 5).max).toEqual([8, 9, 10, 11]);
  });

  it('cuts a stretch into pieces that add up to its length, with one first and one last', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 99_000 }), fc.integer({ min: 1, max: 40_000 }), (from, long) => {
        const plan = ribbonPlan(100_000, 880);
        const to = Math.min(100_000, from + long);
        const parts = pieces(plan, from, to);
        const sum = parts.reduce((total, piece) => total + piece.width * plan.rowMm, 0);
        expect(sum).toBeCloseTo(to - from, 6);
        expect(parts.filter((piece) => piece.first)).toHaveLength(1);
        expect(parts.filter((piece) => piece.last)).toHaveLength(1);
        for (const piece of parts) expect(piece.left + piece.width).toBeLessThanOrEqual(1 + 1e-9);
      }),
    );
  });

  it('puts a stretch that ends with a row wholly into that row', () => {
    const plan = ribbonPlan(100_000, 880);
    expect(pieces(plan, 15_000, 20_000).map((piece) => piece.row)).toEqual([1]);
  });

  it('finds the metre under a point, and stays on the spool', () => {
    const plan = ribbonPlan(95_000, 880);
    expect(positionMm(plan, 3, 0.25)).toBe(32_500);
    expect(positionMm(plan, 9, 0.9)).toBe(95_000);
    expect(positionMm(plan, 0, -1)).toBe(0);
  });

  it('moves by a decimetre, a centimetre or a row, and never off the spool', () => {
    const plan = ribbonPlan(95_000, 880);
    expect(movedBy('ArrowRight', false, 500, plan)).toBe(600);
    expect(movedBy('ArrowRight', true, 500, plan)).toBe(510);
    expect(movedBy('ArrowDown', false, 500, plan)).toBe(10_500);
    expect(movedBy('ArrowUp', false, 500, plan)).toBe(0);
    expect(movedBy('End', false, 500, plan)).toBe(95_000);
    expect(movedBy('x', false, 500, plan)).toBeNull();
  });
});
