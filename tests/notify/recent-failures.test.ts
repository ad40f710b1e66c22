import { expect, it } from 'vitest';
import type { OutboxEntry } from '../../server/escalation/outbox-entry.ts';
import { DeliveryFailure } from '../../server/notify/delivery.ts';
import { RecentFailures } from '../../server/notify/recent-failures.ts';

it('remembers the newest thousand, however long a receiver is down', () => {
  let nowMs = 0;
  const recent = new RecentFailures(() => nowMs);
  const entry = (seq: number) => ({ seq, createdMs: 0, message: { priority: 'high' } }) as OutboxEntry;
  const later = entry(5000);
  const fail = (seq: number) => {
    const triedMs = nowMs;
    nowMs += 2000;
    recent.ended(entry(seq), triedMs, new DeliveryFailure('retry', 'no answer', ''));
  };
  // What fails again is as new as what failed for the first time.
  for (const seq of [1, 2, 1, 2]) fail(seq);
  for (let seq = 3; seq <= 500; seq++) fail(seq);
  fail(1);
  for (let seq = 501; seq <= 1001; seq++) fail(seq);
  expect(recent.isHanging).toBe(true);
  expect(recent.hasHungFor(later, entry(1))).toBe(true);
  expect(recent.hasHungFor(later, entry(2))).toBe(false);
});
