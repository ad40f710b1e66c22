import { expect, test } from 'vitest';
import type { SpoolJudgement } from '../../server/api/spool-contract.ts';
import { besideTheCutPlan } from '../../web/runs/verdict-and-plan.ts';

const spool = { woundMm: 62_000, offMm: 0, cutPlan: { keptMm: 43_860, coils: 4 } };
const judged = (afterCutting: { keptMm: number; coils: number } | null, winding = false) =>
  ({
    woundMm: 62_000,
    winding,
    verdict: { afterCutting: afterCutting && { ...afterCutting, cuts: 7 } },
  }) as SpoolJudgement;

test('a verdict that keeps what the cut plan keeps needs no words', () => {
  expect(besideTheCutPlan(spool, judged({ keptMm: 43_865, coils: 4 }), false)).toBeNull();
});

test('a printer with other limits is told beside the line’s own', () => {
  const words = 'follow the line’s own limits: 43.86 m in 4 coils.';
  expect(besideTheCutPlan(spool, judged({ keptMm: 40_000, coils: 3 }), false)).toBe(
    `By this printer’s limits cutting keeps 40.00 m in 3 coils. “What to cut” and the head of this page ${words}`,
  );
  expect(besideTheCutPlan(spool, judged(null), false)).toContain('keeps 62.00 m in 1 coil.');
  expect(besideTheCutPlan(spool, judged({ keptMm: 0, coils: 0 }), false)).toContain('keeps nothing.');
});

test('what changed since the spool was judged is said', () => {
  expect(besideTheCutPlan(spool, judged({ keptMm: 1, coils: 1 }, true), true)).toContain('62.0 m were wound');
  expect(besideTheCutPlan({ ...spool, offMm: 1500 }, judged(null), true)).toContain('1.5 m of it are cut off');
});
