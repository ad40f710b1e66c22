import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import type { DoneCut } from '../../../server/strand/plan/done-cuts.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

const countError = { wheelShare: 0.01, lengthScaleShare: 0, slipMm: 10 };
/** A blob of 20 mm, by its place from the outer end. */
const blob = (outerMm: number, more: Partial<PlanStretch> = {}): PlanStretch => ({
  fromMm: WHOLE_SPOOL.woundMm - outerMm - 20,
  toMm: WHOLE_SPOOL.woundMm - outerMm,
  fate: 'discard',
  kind: 'blob',
  peakAtMm: WHOLE_SPOOL.woundMm - outerMm - 10,
  ...more,
});
const planOf = (stretches: readonly PlanStretch[], change: Partial<CutRequest> = {}, done: readonly DoneCut[] = []) =>
  planCuts({ ...WHOLE_SPOOL, countError, stretches, ...change }, done);

describe('a piece to discard that has several landmarks', () => {
  it('is cut behind its last bad stretch, whichever of them was confirmed', () => {
    const blobsApart = fc.array(fc.integer({ min: 30, max: 4000 }), { minLength: 1, maxLength: 3 });
    fc.assert(
      fc.property(blobsApart, fc.integer({ min: 0, max: 60 }), fc.nat(3), (apartMm, slipMm, chosen) => {
        const placesMm = [30_000];
        for (const mm of apartMm) placesMm.push(placesMm.at(-1)! + 20 + mm);
        const stretches = placesMm.map((mm) => blob(mm));
        const change = { countError: { ...countError, slipMm } };
        const [first, second] = planOf(stretches, change).steps;
        const { afterCutMm, thenMm } = second!.landmarks[chosen % second!.landmarks.length]!;
        const done: DoneCut[] = [
          { action: 'keep', countedMm: first!.countedMm },
          { action: 'discard', countedMm: afterCutMm + thenMm, landmarkCountedMm: afterCutMm },
        ];
        const after = planOf(stretches, change, done);
        expect(after.steps.map(({ action }) => action)).toEqual(['unwindAndKeep']);
        expect(after.coils.map(({ condition }) => condition)).toEqual(['clean', 'clean']);
      }),
      { numRuns: 60 },
    );
  });

  it('lists those in its bad strand that are still to come, and none in its margins', () => {
    const kept = blob(29_900, { fate: 'doubtful' });
    const [, discarded] = planOf([kept, blob(30_000), blob(30_500)], { doubtful: 'keep' }).steps;
    expect(discarded!.fromOuterMm).toBeLessThan(29_900);
    expect(discarded!.landmarks.map(({ peakAtOuterMm }) => peakAtOuterMm)).toEqual([30_010, 30_510]);
    // Of a stretch whose peak came off with the coil before it, nothing is left to be seen.
    const long = blob(30_000, { fromMm: 69_600, peakAtMm: 69_990 });
    const [rest] = planOf([long], {}, [{ action: 'keep', countedMm: 30_200 }]).steps;
    expect(rest).toMatchObject({ action: 'discard', landmarks: [] });
  });
});
