import { describe, expect, it } from 'vitest';
import { LengthTracker } from '../../server/strand/length.ts';
import { seeded } from '../chance.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { reading } from './readings.ts';

const START = 1_700_000_000_000;

interface Line {
  readonly v?: number;
  readonly len?: number;
}

/** Feeds lines at a rate; returns the tracker after the last one. */
function feed(lines: readonly Line[], hz = 50, each: (tracker: LengthTracker, i: number) => void = () => {}) {
  const tracker = new LengthTracker({ setSpeedMmPerS: 0 });
  lines.forEach((line, i) => {
    tracker.step(reading(START + (i * 1000) / hz, line));
    each(tracker, i);
  });
  return tracker;
}

const times = <T>(n: number, make: (i: number) => T): T[] => Array.from({ length: n }, (_, i) => make(i));

/** Changes one digit, as noise on a cable does where lines carry no checksum. */
function withGarbledDigit(value: number, random: () => number): number {
  const digits = [...value.toFixed(1)];
  const at = Math.floor(random() * (digits.length - 2));
  digits[at] = String(Math.floor(random() * 10));
  return Number(digits.join(''));
}

describe('a counter without a checksum', () => {
  it.each([100, 40, 300, 5000, -40, -100, -5000])(
    'moves no position by one value that is wrong by %d mm',
    (wrongMm) => {
      for (const v of [35, undefined]) {
        for (const hz of [50, 2]) {
          const truth = (i: number) => 7000 + (i * 35) / hz;
          const lines = times(400, (i) => ({
            ...(v === undefined ? {} : { v }),
            len: truth(i) + (i === 200 ? wrongMm : 0),
          }));
          const worst = { mm: 0 };
          const tracker = feed(lines, hz, ({ gaugeMm }, i) => {
            worst.mm = Math.max(worst.mm, Math.abs(gaugeMm - (truth(i) - 7000)));
          });
          expect(worst.mm).toBeLessThan(20);
          expect(tracker.gaugeMm).toBeCloseTo(truth(399) - 7000, 6);
          expect(tracker.counterJumps).toBe(1);
          expect(tracker.contradiction).toBeNull();
        }
      }
    },
  );

  it.each([30, 60, 75, 100, 190, 400, -100, -400, 2000])(
    'moves no position by one of the first values that is wrong by %d mm, without a speed',
    (wrongMm) => {
      for (const hz of [50, 10, 1])
        for (const turnMm of [0, 60])
          for (let wrongAt = 0; wrongAt < 6; wrongAt++) {
            const truth = (i: number) =>
              7000 + (turnMm > 0 ? turnMm * Math.floor((20 * i) / hz / turnMm) : (20 * i) / hz);
            const lines = times(60 * hz, (i) => ({ len: truth(i) + (i === wrongAt ? wrongMm : 0) }));
            const { gaugeMm } = feed(lines, hz);
            // A first value that is wrong by less than two steps is not noticed.
            expect(Math.abs(gaugeMm - (truth(60 * hz - 1) - 7000))).toBeLessThanOrEqual(
              Math.max(turnMm, (1.5 * 20) / hz + 1e-6),
            );
          }
    },
  );

  it('moves no position by wrong values while the strand stands still after a minute', () => {
    for (const sendsSpeed of [true, false]) {
      const truth = (s: number) => 7000 + 35 * Math.min(s, 60);
      const lines = times(90 * 50, (i) => ({
        ...(sendsSpeed ? { v: i < 60 * 50 ? 35 : 0 } : {}),
        len: truth(i / 50) + (i > 61 * 50 && i % 200 === 0 ? [100, 10, 190, 40][(i / 200) % 4]! : 0),
      }));
      expect(Math.abs(feed(lines).gaugeMm - 35 * 60)).toBeLessThan(1);
    }
  });

  it.skipIf(!IS_LONG_CHECK)('keeps places right to 20 mm over 250 m with one value in a hundred garbled', () => {
    for (const sendsSpeed of [true, false]) {
      const random = seeded(sendsSpeed ? 11 : 12);
      const truth = (i: number) => 12_345 + i * 0.7 + 3 * Math.sin(i / 900);
      let garbled = 0;
      const lines = times(360_000, (i) => {
        const isGarbled = random() < 0.01;
        if (isGarbled) garbled++;
        return {
          ...(sendsSpeed ? { v: 35 } : {}),
          len: isGarbled ? withGarbledDigit(truth(i), random) : truth(i),
        };
      });
      let worstMm = 0;
      const tracker = feed(lines, 50, ({ gaugeMm }, i) => {
        worstMm = Math.max(worstMm, Math.abs(gaugeMm - (truth(i) - truth(0))));
      });
      expect(worstMm).toBeLessThan(20);
      expect(tracker.contradiction).toBeNull();
      // A digit may be replaced by itself or change less than what a swinging roller does.
      expect(tracker.counterJumps).toBeGreaterThan(garbled / 4);
      expect(tracker.counterJumps).toBeLessThanOrEqual(garbled);
    }
  });

  it('drops a jump that stays: the counter was set, and no strand passed', () => {
    for (const jumpMm of [150, 4000, -3000]) {
      const lines = times(600, (i) => ({ v: 35, len: 5000 + i * 0.7 + (i < 300 ? 0 : jumpMm) }));
      const tracker = feed(lines);
      expect(tracker.gaugeMm).toBeCloseTo(599 * 0.7, 3);
      expect(tracker.counterJumps).toBe(1);
    }
  });
});

describe('a counter that is right', () => {
  it('of whole turns of a roller is followed, with and without a speed', () => {
    for (const v of [20, undefined]) {
      const lines = times(20_000, (i) => ({
        ...(v === undefined ? {} : { v }),
        len: 100 * Math.floor((30 + i * 0.4) / 100),
      }));
      const tracker = feed(lines);
      expect(Math.abs(tracker.gaugeMm - 20_000 * 0.4)).toBeLessThan(101);
      expect(tracker.counterJumps).toBe(0);
      expect(tracker.contradiction).toBeNull();
    }
  });

  it('is followed when the puller becomes much faster or stops', () => {
    for (const hz of [50, 1]) {
      const speedAt = (i: number) => (i < 50 * hz ? 15 : i < 100 * hz ? 85 : i < 150 * hz ? 0 : 30);
      for (const sendsSpeed of [true, false]) {
        let len = 900;
        const lines = times(200 * hz, (i) => {
          if (i > 0) len += speedAt(i) / hz;
          return { ...(sendsSpeed ? { v: speedAt(i) } : {}), len };
        });
        const tracker = feed(lines, hz);
        expect(tracker.gaugeMm).toBeCloseTo(len - 900, 6);
        expect(tracker.counterJumps).toBe(0);
        expect(tracker.contradiction).toBeNull();
      }
    }
  });

  it('counts the whole strand that passed while readings were missing', () => {
    const before = times(500, (i) => ({ v: 35, len: i * 0.7 }));
    const tracker = feed(before);
    // The speed cannot tell that the puller was faster in between.
    for (let i = 0; i < 5; i++) tracker.step(reading(START + 20_000 + i * 20, { v: 35, len: 1200 + i * 0.7 }));
    expect(tracker.gaugeMm).toBeCloseTo(1202.8, 6);
    expect(tracker.counterJumps).toBe(0);
  });

  it('marks strand as unmeasured if a jump after missing readings turns out to be strand', () => {
    const tracker = feed(times(500, (i) => ({ v: 35, len: i * 0.7 })));
    let gapMm = 0;
    for (let i = 0; i < 5; i++) {
      tracker.step(reading(START + 20_000 + i * 20, { v: 35, len: 1200 + i * 0.7 }));
      gapMm += tracker.gapMm;
    }
    expect(gapMm).toBeGreaterThan(1200 - 500 * 0.7 - 5);
  });
});

describe('counter and speed that contradict each other', () => {
  it('are reported after a metre, in either direction, and no longer when they agree again', () => {
    for (const countedShare of [0.5, 1.5, 0, 3]) {
      let len = 0;
      const tracker = feed(
        times(3000, (i) => {
          len += 0.7 * (i < 1500 ? 1 : countedShare);
          return { v: 35, len };
        }),
      );
      const found = tracker.contradiction;
      expect(found?.sentMmPerS).toBeCloseTo(35, 0);
      expect(Math.sign((found?.countedMmPerS ?? 35) - 35)).toBe(Math.sign(countedShare - 1));
      for (let i = 0; i < 20_000; i++) {
        len += 0.7;
        tracker.step(reading(START + (3000 + i) * 20, { v: 35, len }));
      }
      expect(tracker.contradiction).toBeNull();
    }
  });

  it('are not reported because of the few percent that a roller slips', () => {
    const tracker = feed(times(30_000, (i) => ({ v: 35, len: i * 0.7 * 1.08 })));
    expect(tracker.contradiction).toBeNull();
    expect(tracker.gaugeMm).toBeCloseTo(29_999 * 0.7 * 1.08, 3);
  });

  it('leave no strand unwatched: it counts as moving where either says so', () => {
    const stuck = feed(times(3000, (i) => ({ v: 35, len: Math.min(i, 1000) * 0.7 })));
    expect(stuck.gaugeMm).toBeGreaterThan(2900 * 0.7);
    const deafPuller = feed(times(3000, (i) => ({ v: 0, len: i * 0.7 })));
    expect(deafPuller.speedMmPerS).toBeGreaterThan(30);
    expect(deafPuller.gaugeMm).toBeCloseTo(2999 * 0.7, 3);
  });
});

describe('a speed without a counter', () => {
  it('moves places by less than 20 mm with one value in a hundred garbled', () => {
    const random = seeded(5);
    const lines = times(100_000, () => ({ v: random() < 0.01 ? withGarbledDigit(35, random) : 35 }));
    expect(Math.abs(feed(lines).gaugeMm - 99_999 * 0.7)).toBeLessThan(20);
  });

  it('is integrated exactly across starts and a stop within one reading', () => {
    const speedAt = (i: number) => ((i >= 10 && i < 60) || i >= 90 ? 40 : 0);
    // Trapezoids: half a step at each change.
    expect(feed(times(101, (i) => ({ v: speedAt(i) }))).gaugeMm).toBeCloseTo(40 * (50 + 10.5) * 0.02, 6);
  });
});
