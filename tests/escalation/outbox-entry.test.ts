import { expect, it } from 'vitest';
import { expiryOf, type OutboxEntry, pauseAfter, withCorrectedClock } from '../../server/escalation/outbox-entry.ts';

const HOUR_MS = 3_600_000;
const NOW = 1_000 * HOUR_MS;

const entry = (priority: 'high' | 'low', createdMs: number, nextMs: number): OutboxEntry => ({
  seq: 1,
  channelId: 1,
  to: 'Night shift',
  message: { priority } as OutboxEntry['message'],
  drillId: null,
  createdMs,
  expiresMs: expiryOf('raised', createdMs),
  state: 'waiting',
  attempts: 3,
  nextMs,
  why: '',
  endedMs: null,
});

it('an entry written by a clock that was ahead counts as created now, and is useful for as long as before', () => {
  expect(withCorrectedClock(NOW, entry('low', NOW + 30 * HOUR_MS, NOW + 30 * HOUR_MS))).toMatchObject({
    createdMs: NOW,
    expiresMs: NOW + 12 * HOUR_MS,
    nextMs: NOW + HOUR_MS,
  });
});

it('an urgent entry is tried again within two minutes of the start', () => {
  expect(withCorrectedClock(NOW, entry('high', NOW - HOUR_MS, NOW + HOUR_MS))).toMatchObject({
    createdMs: NOW - HOUR_MS,
    nextMs: NOW + 120_000,
  });
});

it('an entry whose times are possible stays as it is', () => {
  const one = entry('high', NOW - HOUR_MS, NOW + 60_000);
  expect(withCorrectedClock(NOW, one)).toBe(one);
});

it('pauses double from one second to two minutes; a receiver may ask for more, but not for an urgent message', () => {
  expect([1, 2, 3, 7, 8, 9, 100].map((n) => pauseAfter(n, null, 'high') / 1000)).toEqual([1, 2, 4, 64, 120, 120, 120]);
  expect(pauseAfter(1, 600_000, 'low')).toBe(600_000);
  expect(pauseAfter(1, 24 * HOUR_MS, 'low')).toBe(HOUR_MS);
  expect(pauseAfter(1, 600_000, 'high')).toBe(120_000);
});
