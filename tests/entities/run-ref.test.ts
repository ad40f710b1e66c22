import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { partsOfRef, RUN_REF, refOf } from '../../server/entities/run-ref.ts';

describe('the name of a run in links', () => {
  it('is its number, with that of its line before it unless that is this one', () => {
    expect([refOf(0, 3), refOf(2, 3)]).toEqual(['3', '2:3']);
  });

  it('says which run it is', () => {
    fc.assert(
      fc.property(fc.nat(999_999), fc.integer({ min: 1, max: 999_999_999_999_999 }), (lineId, runId) => {
        const ref = refOf(lineId, runId);
        expect(ref).toMatch(new RegExp(`^${RUN_REF}$`));
        expect(partsOfRef(ref)).toEqual({ lineId, runId });
      }),
      { numRuns: 50 },
    );
  });
});
