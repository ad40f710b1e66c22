/** On a busy machine timers are late. Readings are written all the same, so that a kill costs less than a second. */
import { afterEach, expect, it } from 'vitest';
import { ClockAhead, type WatchedLine, watchLine } from '../monitor/watched-line.ts';

let line: WatchedLine | null = null;
afterEach(() => line?.remove());

it('writes readings without waiting for a timer, once for those that arrive together', async () => {
  const clock = new ClockAhead();
  line = watchLine({}, { timing: 'live' }, clock);
  const written: number[] = [];
  for (let chunk = 0; chunk < 10; chunk++) {
    clock.aheadMs += 350;
    line.feed(Array.from({ length: 17 }, (_, i) => `ms=${chunk * 350 + i * 20} d=1.75 v=35\n`).join(''));
    // No timer runs before this.
    await Promise.resolve();
    written.push(line.ticks());
  }
  // Whether the first is due depends on when a timer ran last.
  const each = written.slice(1).map((count, i) => count - written[i]!);
  expect(each.every((count) => count <= 1)).toBe(true);
  expect(each.filter((count) => count === 1)).toHaveLength(written[0] === 1 ? 4 : 5);
});

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
