import { describe, expect, it } from 'vitest';
import { CountGuard } from '../../../server/strand/plan/count-guard.ts';

describe('the error of a count', () => {
  const guard = new CountGuard({ wheelShare: 0.01, lengthScaleShare: 0.02, slipMm: 10 });
  const anchor = { atMm: 1000, belowMm: 5, aboveMm: 7 };

  it('grows from count to count', () => {
    const once = guard.countedFrom({ leastMm: 0, mostMm: 0 }, 1940);
    expect(once).toEqual({ leastMm: expect.closeTo(1871.8, 6), mostMm: expect.closeTo(2010, 6) });
    const twice = guard.countedFrom(once, 970);
    expect(twice).toEqual({ leastMm: expect.closeTo(1871.8 + 930.9, 6), mostMm: expect.closeTo(3020, 6) });
    const back = guard.countedBackFrom({ leastMm: 5000, mostMm: 5100 }, 1940);
    expect(back).toEqual({ leastMm: expect.closeTo(2990, 6), mostMm: expect.closeTo(3228.2, 6) });
  });

  it('is that of the distance from the anchor, of each count and of the anchor itself', () => {
    // 970 / 0.97 is 1000: 30 mm; two counts: 20 mm.
    expect(guard.errorAt(1970, anchor, 2)).toBeCloseTo(57, 6);
    expect(guard.errorAt(1970, { ...anchor, belowMm: 9 }, 0)).toBeCloseTo(39, 6);
    expect(guard.errorAt(500, anchor, 2)).toBeCloseTo(27, 6);
  });

  it('keeps cuts away from a stretch', () => {
    expect(guard.lastCutBefore(2000, anchor, 2)).toBe(1000 + Math.floor((1000 - 27) * 0.97));
    expect(guard.lastCutBefore(1010, anchor, 2)).toBe(983);
    expect(guard.firstCutAfter(2000, anchor, 2)).toBe(1000 + Math.ceil(1025 / 0.97));
    expect(guard.firstCutAfter(900, anchor, 2)).toBe(925);
    expect(guard.surelyLength(960)).toBe(1000);
    expect(guard.surelyLength(-50)).toBe(11);
  });
});
