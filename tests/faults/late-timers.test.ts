/** On a busy machine timers are late. Readings are written all the same, so that a kill costs less than a second. */
import { afterEach, expect, it } from 'vitest';
import { ClockAhead, type WatchedLine, watchLine } from '../monitor/watched-line.ts';

let line: WatchedLine | null = null;
afterEach(() => line?.remove());

it('writes readings without waiting for a timer, once for those that arrive together', async () => {
  const clock = new ClockAhead();
  line = watchLine({}, { timing: 'live' }, clock);
  const written: number[] = [];
  for (let chunk = 0; chunk < 36; chunk++) {
    clock.aheadMs += 100;
    line.feed(Array.from({ length: 5 }, (_, i) => `ms=${chunk * 100 + i * 20} d=1.75 v=35\n`).join(''));
    // No timer runs before this.
    await Promise.resolve();
    written.push(line.ticks());
  }
  // 3.6 s; whether the first chunk is due depends on when a timer ran last.
  expect(stepsOf(written).every((count) => count <= 1)).toBe(true);
  expect(written.at(-1)! - written[0]!).toBeOneOf([5, 6]);
});

it('writes at once while lines arrive so late that the next ones could wait for more than 0.7 s', async () => {
  const clock = new ClockAhead();
  line = watchLine({}, { timing: 'live' }, clock);
  const feedLate = async (lateMs: number, lines: number) => {
    clock.aheadMs += lateMs;
    line!.feed(Array.from({ length: lines }, () => 'd=1.75 v=35\n').join(''));
    await Promise.resolve();
    return line!.ticks();
  };
  // On a busy machine: 400 ms of lines at a time.
  const late: number[] = [];
  for (let i = 0; i < 5; i++) late.push(await feedLate(400, 20));
  expect(stepsOf(late)).toEqual([1, 1, 1, 1]);
  // A slow board, whose lines do not wait: a card is not written more often for it.
  const slow: number[] = [];
  for (let i = 0; i < 5; i++) slow.push(await feedLate(400, 1));
  expect(Math.max(...slow) - late.at(-1)!).toBeLessThan(4);
});

const stepsOf = (counts: readonly number[]) => counts.slice(1).map((count, i) => count - counts[i]!);

it('does the work of each second although every timer is seconds late', async () => {
  const clock = new ClockAhead();
  line = watchLine({}, { timing: 'live' }, clock);
  const late = setInterval(() => {
    clock.aheadMs += 3000;
  }, 20);
  try {
    const { secondsDone } = line.monitor.progress;
    await expect.poll(() => line!.monitor.progress.secondsDone).toBeGreaterThan(secondsDone + 1);
  } finally {
    clearInterval(late);
  }
});
