import { expect, test, vi } from 'vitest';
import { lookAhead } from '../../server/api/look-ahead.ts';
import type { RecordViews } from '../../server/api/record-views.ts';
import type { Run } from '../../server/entities/run.ts';
import type { LineValues } from '../../server/monitor/run/line-values.ts';

const RUNS = [3, 2, 1].map((id) => ({ id }) as Run);

/** Looks ahead at these runs; each rest lasts until it is ended from outside. */
function looking(prepare: (run: Run) => Promise<void> = async () => {}) {
  const looked: number[] = [];
  const rests: { readonly ms: number; readonly end: () => void }[] = [];
  const logger = { warn: vi.fn() };
  const views = {
    endedRuns: () => RUNS,
    prepare: async (run: Run) => {
      looked.push(run.id);
      await prepare(run);
    },
  };
  const stop = lookAhead(
    {
      views: views as unknown as RecordViews,
      lineValues: { of: async () => ({}) } as unknown as LineValues,
      logger,
    },
    (ms, cancelled) =>
      new Promise((resolve, reject) => {
        rests.push({ ms, end: () => resolve(null) });
        cancelled.addEventListener('abort', () => reject(cancelled.reason));
      }),
  );
  /** Ends the rest with this number, and waits for the next. */
  const endRest = async (n: number) => {
    rests[n]!.end();
    await vi.waitFor(() => expect(rests.length).toBe(n + 2));
  };
  return { looked, rests, logger, stop, endRest };
}

test('runs are looked at one after the other, newest first, with a rest after each', async () => {
  const { looked, rests, logger, endRest } = looking();
  expect([looked, rests.length]).toEqual([[], 1]);
  for (const [n, expected] of [[3], [3, 2], [3, 2, 1]].entries()) {
    await endRest(n);
    expect(looked).toEqual(expected);
    expect(rests[n + 1]!.ms).toBeGreaterThanOrEqual(20);
  }
  expect(logger.warn).not.toHaveBeenCalled();
});

test('a run that cannot be judged is logged, and the others are still looked at', async () => {
  const { looked, logger, endRest } = looking(async ({ id }) => {
    if (id === 2) throw new TypeError('no such limits');
  });
  for (const n of [0, 1, 2]) await endRest(n);
  expect(looked).toEqual([3, 2, 1]);
  expect(logger.warn.mock.calls).toEqual([
    [{ run: 2, why: 'TypeError: no such limits' }, 'A run could not be looked at ahead'],
  ]);
});

test('nothing is looked at, and nothing logged, once the service stops', async () => {
  const { looked, logger, stop, endRest } = looking();
  await endRest(0);
  stop();
  await new Promise((resolve) => setImmediate(resolve));
  expect(looked).toEqual([3]);
  expect(logger.warn).not.toHaveBeenCalled();
});
