import { afterEach, beforeEach, expect, test, vi } from 'vitest';
import { WhileUsed } from '../../server/worker/while-used.ts';

const END_AFTER_MS = 1000;

beforeEach(() => {
  vi.useFakeTimers();
});
afterEach(() => {
  vi.useRealTimers();
});

test('ends once no task has run for the time, and not while one runs', async () => {
  const end = vi.fn();
  const use = new WhileUsed(END_AFTER_MS, end);
  let finish = () => {};
  const long = use.run(
    () =>
      new Promise<void>((resolve) => {
        finish = resolve;
      }),
  );
  expect(await use.run(async () => 5)).toBe(5);
  vi.advanceTimersByTime(2 * END_AFTER_MS);
  expect(end).not.toHaveBeenCalled();
  finish();
  await long;
  vi.advanceTimersByTime(END_AFTER_MS - 1);
  await expect(use.run(() => Promise.reject(new Error('failed')))).rejects.toThrow('failed');
  vi.advanceTimersByTime(END_AFTER_MS - 1);
  expect(end).not.toHaveBeenCalled();
  vi.advanceTimersByTime(1);
  expect(end).toHaveBeenCalledTimes(1);
});

test('a cancelled one does not end', async () => {
  const end = vi.fn();
  const use = new WhileUsed(END_AFTER_MS, end);
  await use.run(async () => {});
  use.cancel();
  vi.advanceTimersByTime(2 * END_AFTER_MS);
  expect(end).not.toHaveBeenCalled();
});
