import { describe, expect, it } from 'vitest';
import type { CutRequest, PlanStretch } from '../../../server/strand/plan/cut-request.ts';
import {
  badLength,
  badStretchesBetween,
  landmarksBetween,
  lengthsByFate,
  mapSpool,
} from '../../../server/strand/plan/spool-map.ts';
import { WHOLE_SPOOL } from './whole-spool.ts';

describe('the map of a spool', () => {
  const mapOf = (stretches: readonly PlanStretch[], change: Partial<CutRequest> = {}) =>
    mapSpool({ ...WHOLE_SPOOL, woundMm: 1000, stretches, ...change });
  const stretch = (fromMm: number, toMm: number, fate: PlanStretch['fate'] = 'discard'): PlanStretch => ({
    fromMm,
    toMm,
    fate,
  });
  const ends = (some: readonly { fromMm: number; toMm: number }[]) => some.map(({ fromMm, toMm }) => [fromMm, toMm]);

  it('widens stretches to whole millimetres from the outer end, and clips them to the spool', () => {
    expect(ends(mapOf([stretch(10.2, 10.4)]).badStretches)).toEqual([[989, 990]]);
    expect(ends(mapOf([stretch(500, 500)]).badStretches)).toEqual([[499, 500]]);
    expect(ends(mapOf([stretch(-5, 5), stretch(990.5, 1200)]).badStretches)).toEqual([
      [0, 10],
      [995, 1000],
    ]);
    const outside = [stretch(1200, 1300), stretch(-20, -10), stretch(1000, 1010)];
    expect(mapOf(outside.map((one) => ({ ...one, kind: 'blob' })))).toEqual({
      ...mapOf([]),
      parts: [{ fromMm: 0, toMm: 1000, fate: 'good' }],
    });
  });

  it('counts the worst of several, and cuts out what is to be cut', () => {
    const overlapping = [stretch(100, 300, 'doubtful'), stretch(200, 400), stretch(390, 450, 'unknown')];
    for (const stretches of [overlapping, overlapping.toReversed()]) {
      const map = mapOf(stretches);
      expect(map.parts.map(({ fromMm, fate }) => [fromMm, fate])).toEqual([
        [0, 'good'],
        [550, 'unknown'],
        [600, 'discard'],
        [800, 'doubtful'],
        [900, 'good'],
      ]);
      expect(ends(map.badStretches)).toEqual([[550, 900]]);
      expect(lengthsByFate(map, 580, 820)).toEqual({ good: 0, doubtful: 20, unknown: 20, discard: 200 });
      expect([badLength(map, 0, 1000), badLength(map, 500, 560), badLength(map, 890, 990)]).toEqual([350, 10, 10]);
    }
    expect(ends(mapOf(overlapping, { doubtful: 'keep', unknown: 'keep' }).badStretches)).toEqual([[600, 800]]);
    const two = mapOf([stretch(100, 200), stretch(300, 400)]);
    expect(ends(two.badStretches)).toEqual([
      [600, 700],
      [800, 900],
    ]);
    // Stretches that only touch a place are not between it and another.
    expect(ends(badStretchesBetween(two, 700, 800))).toEqual([]);
    expect(ends(badStretchesBetween(two, 699, 801))).toEqual(ends(two.badStretches));
  });

  it('has as landmarks what can be seen to pass at one place, in order', () => {
    const seen = (fromMm: number, toMm: number, more: Partial<PlanStretch> = {}): PlanStretch => ({
      ...stretch(fromMm, toMm),
      kind: 'blob',
      ...more,
    });
    const places = (...stretches: PlanStretch[]) =>
      mapOf(stretches).landmarks.map(({ peakAtOuterMm, spreadMm }) => [peakAtOuterMm, spreadMm]);
    expect(places(seen(100, 120, { peakAtMm: 105 }))).toEqual([[895, 0]]);
    expect(places(seen(100, 120, { peakAtMm: 100 }))).toEqual([[900, 0]]);
    expect(places(seen(100, 120, { peakAtMm: 120 }))).toEqual([[880, 0]]);
    // Without a peak in it, its middle.
    expect(places(seen(100, 120))).toEqual([[890, 10]]);
    for (const peakAtMm of [null, 99, 121]) expect(places(seen(100, 120, { peakAtMm }))).toEqual([[890, 10]]);
    expect(places(seen(0, 20, { peakAtMm: null }))).toEqual([[990, 10]]);
    expect(places(seen(100, 600))).toEqual([[650, 250]]);
    expect(places(seen(100, 601), seen(10, 20, { fate: 'unknown' }), seen(10, 20, { kind: 'drift' }))).toEqual([]);
    // By their peaks, not their ends.
    const [long, short] = [seen(100, 300, { peakAtMm: 110 }), seen(200, 210, { peakAtMm: 205 })];
    expect(places(long, short)).toEqual([
      [795, 0],
      [890, 0],
    ]);
    const map = mapOf([long, short]);
    const between = (fromMm: number, toMm: number) => landmarksBetween(map, fromMm, toMm).length;
    expect([between(795, 890), between(796, 890), between(795, 889), between(796, 889)]).toEqual([2, 1, 1, 0]);
  });
});
