import { afterEach, describe, expect, it } from 'vitest';
import { scan } from '../strand/scan.ts';
import { type WatchedLine, watchLine } from './watched-line.ts';

let line: WatchedLine;
afterEach(() => line.remove());

interface Sent {
  readonly v: number;
  readonly hasNumbers: boolean;
  readonly hasClock: boolean;
  /** Numbers of lines that never arrive. */
  readonly lost: readonly number[];
}

/** 50 lines a second for two minutes. */
function feed({ v, hasNumbers, hasClock, lost }: Sent): void {
  line = watchLine({ settleLengthMm: 1000, gaugeToWinderMm: 500 });
  for (let i = 0; i < 6000; i++) {
    if (lost.includes(i)) continue;
    const head = `${hasClock ? `ms=${i * 20} ` : ''}${hasNumbers ? `n=${i} ` : ''}`;
    line.feed(
      `${head}d=${(1.75 + 0.004 * Math.sin(i * 12.9898)).toFixed(3)} v=${v} len=${((i * v) / 50).toFixed(2)}\n`,
    );
  }
}

const unmeasured = () =>
  line.monitor
    .snapshot()
    .sections.filter(({ kind }) => kind === 'unknown')
    .map(({ fromMm, toMm }) => toMm - fromMm);

describe('lines that never arrive', () => {
  it.each([
    ['numbers', { hasNumbers: true, hasClock: false }],
    ['a clock', { hasNumbers: false, hasClock: true }],
    ['both', { hasNumbers: true, hasClock: true }],
  ])('leave unmeasured strand from the first one on, if lines have %s', async (_what, has) => {
    feed({ v: 50, ...has, lost: [4000, 5000, 5001] });
    // 1 mm a line: one lost line leaves 2 mm between two readings.
    const [one, two, ...more] = unmeasured();
    expect(one).toBeCloseTo(2, 1);
    expect(two).toBeCloseTo(3, 1);
    expect(more).toEqual([]);
    // Stored readings give the same result.
    line.store.samples.flush();
    const { timeMs, gaugeMm, values } = await line.store.columns.readings(1, 0, 1e9, ['d']);
    const found = scan({ timeMs, gaugeMm, diameterMm: values.d ?? new Float64Array() }, line.monitor.settings);
    expect(found.filter(({ kind }) => kind === 'unknown').map(({ fromMm, toMm }) => Math.round(toMm - fromMm))).toEqual(
      [2, 3],
    );
  });

  it('leave none where no blob can hide between the readings that did arrive', async () => {
    // 0.4 mm a line: one lost line leaves 0.8 mm.
    feed({ v: 20, hasNumbers: true, hasClock: true, lost: [4000] });
    expect(unmeasured()).toEqual([]);
    // Two lost lines leave 1.2 mm.
    await line.remove();
    feed({ v: 20, hasNumbers: true, hasClock: true, lost: [4000, 4001] });
    expect(unmeasured()).toHaveLength(1);
  });

  it('are not imagined on a board whose cycles are not regular', () => {
    line = watchLine({ settleLengthMm: 1000 });
    let ms = 0;
    for (let i = 0; i < 6000; i++) {
      ms += 15 + ((i * 7) % 11);
      line.feed(`ms=${ms} n=${i} d=${(1.75 + 0.004 * Math.sin(i * 12.9898)).toFixed(3)} v=50\n`);
    }
    expect(unmeasured()).toEqual([]);
  });
});
