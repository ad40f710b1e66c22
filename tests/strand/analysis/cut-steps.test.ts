import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { planCuts } from '../../../server/strand/plan/cut-plan.ts';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import type { DoneCut } from '../../../server/strand/plan/done-cuts.ts';
import { tries } from '../../long-check.ts';
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
      { numRuns: tries(60) },
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

describe('a stretch without a peak', () => {
  /** Marked by hand, by its ends from the outer end. */
  const marked = (fromOuterMm: number, toOuterMm: number, fate: PlanStretch['fate'] = 'discard'): PlanStretch =>
    blob(0, {
      fromMm: WHOLE_SPOOL.woundMm - toOuterMm,
      toMm: WHOLE_SPOOL.woundMm - fromOuterMm,
      fate,
      kind: 'marked',
      peakAtMm: null,
    });

  it('is expected all along, from its start to its end', () => {
    // The cut before it is at 9890 mm. 10,500 mm in two counts may be off by 126.1 mm, and half of it is 250 mm.
    const [, step] = planOf([marked(10_000, 10_500)]).steps;
    expect(step!.landmarks).toMatchObject([{ afterCutMm: 10_250 - 9890, countErrorMm: 377 }]);
    // 100 / 0.99 + 10 are 111 mm.
    expect(() =>
      planOf([marked(10_000, 10_500)], {}, [{ action: 'discard', countedMm: 500, landmarkCountedMm: 100 }]),
    ).toThrow('the next one is 9.89 m further on.');
  });

  it('corrects the count only as far as that is outside it', () => {
    const placeAt = (landmarkCountedMm: number) =>
      planOf([marked(800, 1300)], {}, [{ action: 'discard', countedMm: 2000, landmarkCountedMm }]).donePieces[0];
    expect(placeAt(1000)).toMatchObject({ knownToMm: 1000, toOuterMm: 2000 });
    expect(placeAt(795)).toMatchObject({ knownToMm: 800, toOuterMm: 2005 });
    expect(placeAt(1305)).toMatchObject({ knownToMm: 1300, toOuterMm: 1995 });
  });

  it('may be taken for another landmark near one of its ends, and that one for it', () => {
    const endOfCoil = (...stretches: PlanStretch[]) =>
      planOf([...stretches, marked(60_000, 60_010)], {
        doubtful: 'keep',
        countError: { wheelShare: 0, lengthScaleShare: 0, slipMm: 10 },
      }).steps[2]?.toOuterMm;
    // Two counts have a slip of 20 mm; where one landmark passes for another, it counts twice.
    const cutBlob = blob(29_990);
    expect(endOfCoil(cutBlob)).toBe(60_000 - 20);
    expect(endOfCoil(cutBlob, marked(30_030, 30_400, 'doubtful'))).toBe(60_000 - 20 - 400);
    expect(endOfCoil(cutBlob, marked(30_041, 30_400, 'doubtful'))).toBe(60_000 - 20);
    const cutMark = marked(29_900, 30_100);
    expect(endOfCoil(cutMark)).toBe(60_000 - 20 - 100);
    expect(endOfCoil(cutMark, blob(30_120, { fate: 'doubtful' }))).toBe(60_000 - 20 - 130);
  });
});
