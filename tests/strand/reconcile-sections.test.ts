import { describe, expect, it } from 'vitest';
import { reconcileSections } from '../../server/strand/reconcile-sections.ts';
import type { MeasuredSection } from '../../server/strand/section.ts';

function section(ordinal: number, fromMm: number, toMm: number, more: Partial<MeasuredSection> = {}): MeasuredSection {
  return {
    ordinal,
    kind: 'offTolerance',
    fromMm,
    toMm,
    fromTimeMs: fromMm * 50,
    toTimeMs: toMm * 50,
    peakMm: 1.82,
    peakAtMm: (fromMm + toMm) / 2,
    volumeBeyondMm3: null,
    certainty: 'sure',
    verdict: 'doubtful',
    open: false,
    ...more,
  };
}

describe('sections of strand that was scanned again', () => {
  it('are added where none of their kind is known', () => {
    const found = [section(1, 100, 200), section(2, 500, 600)];
    // A section of another kind, or one that only touches, is a different one.
    const known = [section(7, 150, 180, { kind: 'blob' }), section(8, 200, 300), section(9, 400, 500)];
    expect(reconcileSections(found, known)).toEqual({ widened: [], added: found });
  });

  it('are known where a known section covers them to within a millimetre', () => {
    const known = [section(7, 100.6, 199.5)];
    expect(reconcileSections([section(1, 100, 200)], known)).toEqual({ widened: [], added: [] });
  });

  it('widen a known section that covers a part, which keeps its ordinal', () => {
    const known = [section(7, 150, 200, { peakMm: 1.81 })];
    const { widened, added } = reconcileSections([section(1, 20, 180, { peakMm: 1.9 })], known);
    expect(added).toEqual([]);
    expect(widened).toEqual([{ ...known[0]!, fromMm: 20, fromTimeMs: 1000 }]);
    const whole = reconcileSections([section(1, 20, 250, { peakMm: 1.9 })], known);
    expect(whole.widened).toEqual([{ ...section(1, 20, 250, { peakMm: 1.9 }), ordinal: 7 }]);
  });

  it('leave an open section unchanged', () => {
    const known = [section(7, 150, 160, { open: true })];
    expect(reconcileSections([section(1, 20, 200)], known)).toEqual({ widened: [], added: [] });
  });

  it('cover, together with the known ones, everything that was found', () => {
    const known = [section(1, 10, 20), section(2, 30, 40), section(3, 70, 90)];
    const found = [section(1, 5, 35), section(2, 33, 75), section(3, 95, 99)];
    const { widened, added } = reconcileSections(found, known);
    const all = [
      ...known.filter((one) => !widened.some(({ ordinal }) => ordinal === one.ordinal)),
      ...widened,
      ...added,
    ];
    for (let mm = 0.5; mm < 100; mm++) {
      const on = (list: readonly MeasuredSection[]) => list.some((one) => one.fromMm <= mm && one.toMm >= mm);
      expect(on(all)).toBe(on([...known, ...found]));
    }
  });
});
