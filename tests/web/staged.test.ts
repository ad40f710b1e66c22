import { afterEach, expect, test } from 'vitest';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { stagedText } from '../../web/format/names.ts';
import { lineNowMs, live } from '../../web/service/live-store.ts';

afterEach(() => {
  live.value = null;
});

test('names a replay and its pace', () => {
  expect(stagedText({ kind: 'simulation', pace: 20 })).toBe('a simulation at 20 times real speed');
  expect(stagedText({ kind: 'replay', pace: 'max' })).toBe('a replay as fast as it goes');
  expect(stagedText({ kind: 'simulation', pace: 1 })).toBe('a simulation');
});

test('"since" and "ago" go by the readings of a replay, which run ahead of the clock, and by the clock on a line', () => {
  const aheadMs = Date.now() + 3_600_000;
  const state = (timing: 'live' | 'recorded') =>
    ({ link: { timing }, now: { timeMs: aheadMs } }) as unknown as LiveState;
  live.value = state('recorded');
  expect(lineNowMs.value).toBe(aheadMs);
  live.value = state('live');
  expect(Math.abs(lineNowMs.value - Date.now())).toBeLessThan(60_000);
});
