/** The clock is set while messages wait for their next attempt. */
import { afterEach, beforeEach, expect, it } from 'vitest';
import type { Message } from '../../server/escalation/message.ts';
import { expiryOf } from '../../server/escalation/outbox-entry.ts';
import { Outbox } from '../../server/notify/outbox.ts';
import { withStore } from '../store/readings.ts';
import { HttpReceiver } from './http-receiver.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';

const DAY_MS = 86_400_000;
const YEAR_MS = 365 * DAY_MS;

let under: NotifierUnderTest;
let receiver: HttpReceiver;
beforeEach(async () => {
  under = await startNotifier();
  receiver = await new HttpReceiver().start();
});
afterEach(async () => {
  await under.remove();
  await receiver.stop();
});

it('what has failed is tried again at once, not a year later', async () => {
  const channelId = await under.addChannel('Webhook', {
    kind: 'webhook',
    url: receiver.url,
    secret: '',
    template: '',
  });
  under.addPerson('Ada', [channelId]);
  under.aheadMs = YEAR_MS;
  const { looks } = under;
  await expect.poll(() => under.looks, { timeout: 5000 }).toBeGreaterThan(looks + 1);
  receiver.otherwise = { status: 503 };
  const alarm = under.raise();
  await expect.poll(() => receiver.received.length).toBeGreaterThan(0);
  // Nothing about it follows.
  under.end(alarm.id);
  receiver.otherwise = { status: 204 };
  const attempts = receiver.received.length;
  under.aheadMs = 0;
  await expect.poll(() => receiver.received.length, { timeout: 5000 }).toBeGreaterThan(attempts);
  await expect.poll(() => under.store.people.waiting()).toEqual([]);
});

it('what waits is not too late because the clock was set ahead by half a year', async () => {
  const channelId = await under.addChannel('Webhook', { kind: 'webhook', url: receiver.url, secret: '', template: '' });
  under.addPerson('Ada', [channelId]);
  receiver.otherwise = { status: 503 };
  const alarm = under.raise();
  await expect.poll(() => receiver.received.length).toBeGreaterThan(0);
  under.setAheadMs = YEAR_MS / 2;
  const { looks } = under;
  await expect.poll(() => under.looks, { timeout: 5000 }).toBeGreaterThan(looks + 1);
  under.end(alarm.id);
  const attempts = receiver.received.length;
  receiver.otherwise = { status: 204 };
  await expect.poll(() => receiver.received.length, { timeout: 9000 }).toBeGreaterThan(attempts);
  await expect.poll(() => under.store.people.waiting()).toEqual([]);
  expect(under.store.people.ended({ dead: true, limit: 9 })).toEqual([]);
}, 20_000);

it('what programs wait for is not too old because the service starts with a clock that is half a year ahead', async () => {
  await withStore(async ({ people, maintenance }) => {
    let nowMs = Date.UTC(2026, 5, 1);
    const started = () => {
      const outbox = new Outbox(people, () => nowMs, { info: () => {}, warn: () => {}, error: () => {} });
      outbox.start();
      return outbox;
    };
    const message = { key: 'step-1', kind: 'alarmStep', alarmId: 1 } as Message;
    const report = { channelId: 1, to: 'programs', message, drillId: null, expiresMs: expiryOf('alarmStep', nowMs) };
    started().put([], [report], new Set());
    const expiresMs = () => started().waiting(1, () => true)[0]!.expiresMs;
    nowMs += YEAR_MS / 2;
    expect(expiresMs()).toBeGreaterThan(nowMs);
    for (let day = 0; day < 31; day++) {
      nowMs += DAY_MS;
      maintenance.addDay(nowMs);
    }
    expect(expiresMs()).toBeLessThan(nowMs);
  });
});
