import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import type { PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import { rewind } from '../../bench/rewinding/rewind.ts';
import { tries } from '../../long-check.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

/** Stretches from the outer end on, some near each other; a marked one has no peak. */
const stretches = fc.array(
  fc.record({
    afterMm: fc.oneof(fc.integer({ min: 20, max: 800 }), fc.integer({ min: 6000, max: 15_000 })),
    lengthMm: fc.integer({ min: 2, max: 490 }),
    kind: fc.constantFrom<NonNullable<PlanStretch['kind']>>('blob', 'marked', 'marked', 'offTolerance'),
    /** Where a user sees it, as a share of its length. */
    seenAt: fc.double({ min: 0, max: 1, noNaN: true }),
  }),
  { minLength: 1, maxLength: 7 },
);

describe('a landmark', () => {
  it('may be seen at any point of a stretch without a peak, and no coil called clean holds a bad one', () => {
    const error = fc.double({ min: -1, max: 1, noNaN: true });
    fc.assert(
      fc.property(stretches, error, fc.nat(1000), fc.constantFrom(0, 2000), (drawn, wheel, seed, carelessMm) => {
        let atMm = 10_000;
        const bad = drawn.map(({ afterMm, lengthMm, kind, seenAt }) => {
          const fromMm = atMm + afterMm;
          atMm = fromMm + lengthMm;
          return { fromMm, toMm: atMm, kind, peakMm: kind === 'offTolerance' ? null : fromMm + seenAt * lengthMm };
        });
        const woundMm = atMm + 10_000;
        const request = {
          ...WHOLE_SPOOL,
          woundMm,
          stretches: bad.map(({ fromMm, toMm, kind, peakMm }): PlanStretch => {
            const peakAtMm = kind === 'blob' && peakMm !== null ? woundMm - peakMm : null;
            return { fromMm: woundMm - toMm, toMm: woundMm - fromMm, fate: 'discard', kind, peakAtMm };
          }),
          countError: { wheelShare: 0.01, lengthScaleShare: 0, slipMm: 12 },
        };
        const rewinder = { seed, wheelOff: 0.0099 * wheel, slipMm: 10, confirmed: 0.7, carelessMm };
        expect(rewind({ woundMm, bad, request }, rewinder).spoilt).toBe(0);
      }),
      { numRuns: tries(120) },
    );
  });
});
