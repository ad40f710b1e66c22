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
    expect(guard.surelyLength(0, 960)).toBe(1000);
    expect(guard.surelyLength(50, 0)).toBe(11);
  });

  it('allows once for the edge of a stretch, however many counts there were', () => {
    const exact = { wheelShare: 0, lengthScaleShare: 0, slipMm: 10, edgeMm: 20 };
    const edges = new CountGuard(exact);
    const from = { atMm: 0, belowMm: 0, aboveMm: 0 };
    expect([1, 3].map((counts) => edges.lastCutBefore(2000, from, counts))).toEqual([1970, 1950]);
    expect([1, 3].map((counts) => edges.firstCutAfter(2000, from, counts))).toEqual([2030, 2050]);
    expect(edges.surelyLength(0, 960)).toBe(990);
    // Places that are seen, and counts, have no edge.
    expect(edges.errorAt(2000, from, 1)).toBe(10);
    expect(edges.countedFrom({ leastMm: 0, mostMm: 0 }, 500)).toEqual({ leastMm: 490, mostMm: 510 });
  });
});

describe('a stretch whose recorded length is uncertain', () => {
  const error = { wheelShare: 0, lengthScaleShare: 0, slipMm: 0 };
  const guard = new CountGuard(error, [{ fromMm: 4000, toMm: 5000, offMm: 700 }]);
  const anchor = { atMm: 0, belowMm: 0, aboveMm: 0 };

  it('makes places on it and beyond uncertain, and none before it', () => {
    expect(guard.lastCutBefore(4000, anchor, 0)).toBe(4000);
    expect(guard.firstCutAfter(4000, anchor, 0)).toBe(4000);
    expect(guard.lastCutBefore(9000, anchor, 0)).toBe(8300);
    expect(guard.firstCutAfter(9000, anchor, 0)).toBe(9700);
    expect(guard.errorAt(9000, anchor, 0)).toBe(700);
    expect(guard.surelyLength(3000, 6000)).toBe(3700);
    expect(guard.surelyLength(5000, 6000)).toBe(1000);
  });

  it('no longer matters after a landmark beyond it', () => {
    expect(guard.lastCutBefore(9000, { ...anchor, atMm: 6000 }, 0)).toBe(9000);
  });

  it('widens a count that may have reached it, also backwards', () => {
    expect(guard.countedFrom({ leastMm: 0, mostMm: 0 }, 3900)).toEqual({ leastMm: 3900, mostMm: 3900 });
    expect(guard.countedFrom({ leastMm: 0, mostMm: 0 }, 6000)).toEqual({ leastMm: 5300, mostMm: 6700 });
    expect(guard.countedBackFrom({ leastMm: 6000, mostMm: 6000 }, 3000)).toEqual({ leastMm: 2300, mostMm: 3700 });
    const two = new CountGuard(error, [
      { fromMm: 4000, toMm: 5000, offMm: 700 },
      { fromMm: 6500, toMm: 7000, offMm: 100 },
    ]);
    expect(two.countedFrom({ leastMm: 0, mostMm: 0 }, 6000)).toEqual({ leastMm: 5200, mostMm: 6800 });
  });
});
