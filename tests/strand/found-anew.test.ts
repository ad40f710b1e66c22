import { describe, expect, it } from 'vitest';
import { findAgain } from '../../server/strand/found-again.ts';
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

describe('sections that were found when strand was judged again', () => {
  it('are new where nothing of their kind is known', () => {
    const found = [section(1, 100, 200), section(2, 500, 600)];
    // Another kind there, or one that only touches, is another section.
    const known = [section(7, 150, 180, { kind: 'blob' }), section(8, 200, 300), section(9, 400, 500)];
    expect(findAgain(found, known)).toEqual({ widened: [], fresh: found });
  });

  it('are known where one holds them, to a millimetre', () => {
    const known = [section(7, 100.6, 199.5)];
    expect(findAgain([section(1, 100, 200)], known)).toEqual({ widened: [], fresh: [] });
  });

  it('widen what is known of a part, under its number', () => {
    const known = [section(7, 150, 200, { peakMm: 1.81 })];
    const { widened, fresh } = findAgain([section(1, 20, 180, { peakMm: 1.9 })], known);
    expect(fresh).toEqual([]);
    expect(widened).toEqual([{ ...known[0]!, fromMm: 20, fromTimeMs: 1000 }]);
    const whole = findAgain([section(1, 20, 250, { peakMm: 1.9 })], known);
    expect(whole.widened).toEqual([{ ...section(1, 20, 250, { peakMm: 1.9 }), ordinal: 7 }]);
  });

  it('leave one that still grows alone', () => {
    const known = [section(7, 150, 160, { open: true })];
    expect(findAgain([section(1, 20, 200)], known)).toEqual({ widened: [], fresh: [] });
  });

  it('cover together with what is known all that was found, wherever they lie', () => {
    const known = [section(1, 10, 20), section(2, 30, 40), section(3, 70, 90)];
    const found = [section(1, 5, 35), section(2, 33, 75), section(3, 95, 99)];
    const { widened, fresh } = findAgain(found, known);
    const all = [
      ...known.filter((one) => !widened.some(({ ordinal }) => ordinal === one.ordinal)),
      ...widened,
      ...fresh,
    ];
    for (let mm = 0.5; mm < 100; mm++) {
      const on = (list: readonly MeasuredSection[]) => list.some((one) => one.fromMm <= mm && one.toMm >= mm);
      expect(on(all)).toBe(on([...known, ...found]));
    }
  });
});
