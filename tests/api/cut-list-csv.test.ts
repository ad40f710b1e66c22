import { expect, it } from 'vitest';
import { cutListCsv } from '../../server/api/export/cut-list-csv.ts';
import type { CutPlan } from '../../server/strand/plan/cut-plan.ts';

it('says in words what is in doubt, each doubt once', () => {
  const doubt = { kind: 'neck', doubt: 'nearLimit' };
  const step = {
    ordinal: 1,
    action: 'keep',
    countedMm: 12_345,
    countErrorMm: 100,
    cutAfter: true,
    coil: 'A',
    fromOuterMm: 0,
    toOuterMm: 12_345,
    landmarks: [],
    doubts: [doubt, doubt, { kind: 'offTolerance', doubt: null }],
  };
  const plan = { steps: [step], donePieces: [] } as unknown as CutPlan;
  expect(cutListCsv(plan).split('\r\n')[1]).toBe(
    '1,keep,12.345,0.100,cut,A,0.000,12.345,,thin spot (near the limit); out of tolerance',
  );
});
