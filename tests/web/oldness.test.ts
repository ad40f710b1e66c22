import { afterEach, expect, test } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { connection, live, oldForMs } from '../../web/service/live-store.ts';

const state = (link: Partial<LiveState['link']>) =>
  ({ link: { timing: 'live', silentForS: 0.02, ...link } }) as unknown as LiveState;

afterEach(() => {
  live.value = null;
  connection.value = { phase: 'connecting', sinceMs: Date.now() };
});

test('what a line that speaks says is of now', () => {
  connection.value = { phase: 'open', sinceMs: Date.now() - 60_000 };
  live.value = state({});
  expect(oldForMs.value).toBeNull();
  live.value = state({ silentForS: null });
  expect(oldForMs.value).toBeNull();
});

test('what a silent line said last is as old as its silence', () => {
  connection.value = { phase: 'open', sinceMs: Date.now() };
  live.value = state({ silentForS: 28 });
  expect(oldForMs.value).toBe(28_000);
  // A recording has no silence: its pauses are its pace.
  live.value = state({ silentForS: 28, timing: 'recorded' });
  expect(oldForMs.value).toBeNull();
});

test('without the service everything is old, by the silence of before too', () => {
  live.value = state({ silentForS: 2 });
  connection.value = { phase: 'lost', sinceMs: Date.now() - 10_000 };
  expect(oldForMs.value).toBeGreaterThanOrEqual(12_000);
  expect(oldForMs.value).toBeLessThan(20_000);
});
