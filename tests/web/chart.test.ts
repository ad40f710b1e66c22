import { describe, expect, it } from 'vitest';
import type { WindowView } from '../../server/api/contract/runs-and-spools.ts';
import { diameterRange } from '../../web/chart/diameter-scale.ts';
import { roundTicks } from '../../web/chart/ticks.ts';
import { timeSplits } from '../../web/chart/time-splits.ts';
import { askRange, pan, within, zoom } from '../../web/chart/view-range.ts';
import { drawnWindow, extremes } from '../../web/chart/window-columns.ts';
import { clock } from '../../web/format/times.ts';
import { spanMm } from '../../web/strand-view/spans.ts';

const H = 3_600_000;

describe('ticks along time', () => {
  // Clock changes of 2026 in Central Europe: 29 March and 25 October (Directive 2000/84/EC, IANA time zone database).
  it.each([
    ['in spring', Date.UTC(2026, 2, 28, 20), Date.UTC(2026, 2, 29, 8)],
    ['in autumn', Date.UTC(2026, 9, 24, 20), Date.UTC(2026, 9, 25, 8)],
    ['on a plain night', Date.UTC(2026, 5, 1, 20), Date.UTC(2026, 5, 2, 8)],
  ])('fall on whole hours of the run’s zone %s', (_, from, to) => {
    const ticks = timeSplits(from, to, 14, 'Europe/Berlin');
    expect(ticks.length).toBeGreaterThanOrEqual(10);
    for (const tick of ticks) expect(clock(tick, 'Europe/Berlin')).toMatch(/:00$/);
    expect(ticks).toEqual([...new Set(ticks)].sort((a, b) => a - b));
    expect(Math.min(...ticks)).toBeGreaterThanOrEqual(from);
    expect(Math.max(...ticks)).toBeLessThanOrEqual(to);
  });

  it.each([
    ['Europe/Berlin', '2026-10-25T01:05:00Z', 40, ['02:10', '02:20', '02:30', '02:40']],
    ['Europe/Berlin', '2026-10-25T00:40:00Z', 40, ['02:40', '02:50', '02:00', '02:10', '02:20']],
    ['Europe/Berlin', '2026-03-29T00:40:00Z', 40, ['01:40', '01:50', '03:00', '03:10', '03:20']],
    ['Australia/Lord_Howe', '2026-04-04T14:40:00Z', 40, ['01:40', '01:50', '01:30', '01:40', '01:50']],
    ['Europe/Berlin', '2026-10-24T20:00:00Z', 12 * 60, ['00:00', '03:00', '06:00', '09:00']],
    ['Europe/Berlin', '2026-10-23T20:00:00Z', 96 * 60, ['00:00', '00:00', '00:00', '00:00']],
    ['Europe/Berlin', '2026-03-27T20:00:00Z', 96 * 60, ['00:00', '00:00', '00:00', '00:00']],
  ])(
    'are there in the hour that is shown twice, and in none that is skipped: %s, from %s for %s min',
    (zone, iso, minutes, clocks) => {
      const from = Date.parse(iso);
      expect(timeSplits(from, from + minutes * 60_000, 4, zone).map((ms) => clock(ms, zone))).toEqual(clocks);
    },
  );

  it('are never many more than requested', () => {
    for (const span of [10_000, 60_000, H, 8 * H, 100 * H]) {
      expect(timeSplits(0, span, 6, 'UTC').length).toBeLessThanOrEqual(8);
    }
  });
});

describe('ticks along the strand', () => {
  it('are round metres from 0', () => {
    expect(roundTicks(0, 1.236, 9)).toEqual([0, 0.2, 0.4, 0.6, 0.8, 1, 1.2]);
    expect(roundTicks(0, 300, 6)).toEqual([0, 50, 100, 150, 200, 250, 300]);
  });

  it('do not request a new window with every metre of a growing spool', () => {
    const spans = new Set<number>();
    for (let wound = 180_000; wound < 200_000; wound += 100) spans.add(spanMm('spool', 1200, wound));
    expect(spans.size).toBeLessThanOrEqual(2);
    for (const span of spans) expect(span).toBeGreaterThanOrEqual(181_200);
  });
});

describe('a view of a window', () => {
  it('is moved, not cut, where it sticks out, and is never too narrow', () => {
    expect(within([-50, 50], [0, 1000], 10)).toEqual([0, 100]);
    expect(within([990, 1010], [0, 1000], 10)).toEqual([980, 1000]);
    expect(within([500, 501], [0, 1000], 10)).toEqual([495.5, 505.5]);
    expect(within([-1e9, 1e9], [0, 1000], 10)).toEqual([0, 1000]);
  });

  it('keeps the place under the pointer while it zooms', () => {
    const [from, to] = zoom([0, 100], 25, 0.5);
    expect((25 - from) / (to - from)).toBeCloseTo(0.25, 12);
    expect(pan([0, 100], 10)).toEqual([10, 110]);
  });

  it('requests half of itself on either side', () => {
    expect(askRange([400, 500], [0, 1000])).toEqual([350, 550]);
    expect(askRange([0, 100], [0, 1000])).toEqual([0, 150]);
  });
});

function windowOf(count: number[], d: (number | null)[]): WindowView {
  return {
    axis: 'length',
    from: 0,
    to: count.length * 10,
    count,
    timeMs: d,
    gaugeMm: d,
    signals: { d: { min: d, max: d, mean: d } },
  };
}

describe('the drawing of a stored window', () => {
  it('has one point for each column with readings, in its middle', () => {
    const drawn = drawnWindow(windowOf([3, 3, 3], [1.7, 1.8, 1.75]), ['d']);
    expect(drawn.x).toEqual([5, 15, 25]);
    expect(drawn.signals[0]?.max).toEqual([1.7, 1.8, 1.75]);
  });

  it('has a null where readings are missing for long, and none where a zoom is finer than the readings', () => {
    const missing = drawnWindow(
      windowOf([1, 1, 1, 0, 0, 0, 0, 0, 1, 1], [1, 1, 1, null, null, null, null, null, 1, 1]),
      ['d'],
    );
    expect(missing.signals[0]?.mean).toEqual([1, 1, 1, null, 1, 1]);
    const fine = Array.from({ length: 41 }, (_, i) => (i % 8 === 0 ? 1 : 0));
    const drawn = drawnWindow(
      windowOf(
        fine,
        fine.map((n) => (n === 1 ? 1.75 : null)),
      ),
      ['d'],
    );
    expect(drawn.signals[0]?.mean).toEqual([1.75, 1.75, 1.75, 1.75, 1.75, 1.75]);
  });

  it('shows an unknown signal as gaps', () => {
    expect(drawnWindow(windowOf([1, 1], [1, 1]), ['x']).signals[0]?.min).toEqual([null, null]);
  });

  it('has extremes, and none if it is empty', () => {
    expect(
      extremes([
        [null, 1.6],
        [1.9, null],
      ]),
    ).toEqual([1.6, 1.9]);
    expect(extremes([[null]])).toBeNull();
  });
});

describe('the scale of diameters', () => {
  const limits = { nominalMm: 1.75, toleranceMm: 0.05, hotendLimitMm: 1.9, smallestFeedableMm: 1.6 };
  it('always shows all limits, grows for a blob, and is not squashed by a lost strand', () => {
    const [low, high] = diameterRange(limits, 1.76);
    expect(low).toBeLessThan(1.6);
    expect(high).toBeGreaterThan(1.9);
    expect(diameterRange(limits, 2.31)[1]).toBeGreaterThan(2.31);
    // A purged lump of 4.8 mm is marked at the edge: the band of ± 0.05 mm keeps a tenth of the picture.
    const [bottom, top] = diameterRange(limits, 4.8);
    expect(0.1 / (top - bottom)).toBeGreaterThan(0.09);
    expect(top).toBeGreaterThan(2.4);
    expect(diameterRange(limits, 1.76, 1.48)[0]).toBeLessThan(1.48);
    expect(diameterRange(limits, 1.76, 0)[0]).toBe(low);
  });
});
