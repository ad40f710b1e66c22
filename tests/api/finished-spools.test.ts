/** Which spools are reported to programs although the clock was set in between. */
import { afterEach, beforeEach, expect, it, vi } from 'vitest';
import { FinishedSpools } from '../../server/api/finished-spools.ts';

const DAY_MS = 86_400_000;
const NOW_MS = Date.UTC(2031, 0, 1);

beforeEach(() => vi.useFakeTimers());
afterEach(() => vi.useRealTimers());

it('one that ends after a clock that was years ahead has been set right is reported at once', async () => {
  let nowMs = NOW_MS + 3650 * DAY_MS;
  let windingId: number | null = 1;
  let savedMs: number | null = null;
  const ended = new Map<number, number>();
  const reported: number[] = [];
  const finished = new FinishedSpools({
    reader: {
      runs: () => [{ id: 1, endedMs: null, sourceTitle: 'serial port', importedMs: null }],
      spools: () => [...ended].map(([id, endedMs]) => ({ id, endedMs })),
    } as never,
    judge: { judge: async (id: number) => ({ woundSpool: { name: `${id}` } }), spreadOf: async () => null } as never,
    clock: () => nowMs,
    log: { info: () => {}, warn: () => {}, error: () => {} },
    texts: { spool: () => '' },
    windingSpoolId: () => windingId,
    isWanted: () => true,
    load: () => savedMs,
    save: (untilMs) => {
      savedMs = untilMs;
    },
    report: ({ endedMs, name }) => {
      if (!reported.includes(endedMs)) reported.push(endedMs);
      expect(name).not.toBe('');
    },
  });
  const passes = async (ms: number) => {
    nowMs += ms;
    await vi.advanceTimersByTimeAsync(2000);
  };
  const ends = (id: number) => {
    ended.set(id, nowMs);
    windingId = null;
    return nowMs;
  };
  finished.start();
  await passes(1000);
  const first = ends(1);
  await passes(1000);
  windingId = 2;
  await passes(1000);
  nowMs = NOW_MS;
  await passes(1000);
  await passes(DAY_MS);
  const second = ends(2);
  await passes(1000);
  windingId = 3;
  await passes(1000);
  await passes(DAY_MS);
  const third = ends(3);
  await passes(1000);
  finished.stop();
  expect(reported).toStrictEqual([first, second, third]);
});
