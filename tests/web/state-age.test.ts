import { afterEach, expect, test } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { connection, live, staleForMs } from '../../web/service/live-store.ts';

const state = (link: Partial<LiveState['link']>) =>
  ({ link: { timing: 'live', silentForS: 0.02, ...link } }) as unknown as LiveState;

afterEach(() => {
  live.value = null;
  connection.value = { phase: 'connecting', sinceMs: Date.now() };
});

test('the state is current while the line sends readings', () => {
  connection.value = { phase: 'open', sinceMs: Date.now() - 60_000 };
  live.value = state({});
  expect(staleForMs.value).toBeNull();
  live.value = state({ silentForS: null });
  expect(staleForMs.value).toBeNull();
});

test('the state is as old as the silence of the line', () => {
  connection.value = { phase: 'open', sinceMs: Date.now() };
  live.value = state({ silentForS: 28 });
  expect(staleForMs.value).toBe(28_000);
  // A recording is never silent: its pauses belong to its pace.
  live.value = state({ silentForS: 28, timing: 'recorded' });
  expect(staleForMs.value).toBeNull();
});

test('the age of the state includes the silence before the connection was lost', () => {
  live.value = state({ silentForS: 2 });
  connection.value = { phase: 'lost', sinceMs: Date.now() - 10_000 };
  expect(staleForMs.value).toBeGreaterThanOrEqual(12_000);
  expect(staleForMs.value).toBeLessThan(20_000);
});
