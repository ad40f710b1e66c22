import { afterEach, beforeEach, expect, it } from 'vitest';
import { CONTACT_DEFAULTS } from '../../server/escalation/contact.ts';
import { DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import { Drills } from '../../server/notify/drills.ts';
import { Outbox } from '../../server/notify/outbox.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';

let under: NotifierUnderTest;
beforeEach(async () => {
  under = await startNotifier();
});
afterEach(() => under.remove());

it('a scheduled drill waits for its answers even if the clock advances while it starts, or is set back a little afterwards', () => {
  const log = { info: () => {}, warn: () => {}, error: () => {} };
  const logged: string[] = [];
  const dueMs = Date.parse('2026-03-02T18:30:00Z');
  let nowMs = dueMs;
  const ada = {
    name: 'Ada',
    channelIds: [1],
    quiet: null,
    leastPriority: 'low',
    round: 1,
    ...CONTACT_DEFAULTS,
  } as const;
  const drills = new Drills({
    store: under.store.people,
    outbox: new Outbox(under.store.people, () => nowMs, log),
    contacts: () => [{ id: 1, ...ada }],
    rules: () => ({ ...DEFAULT_RULES, drill: { weekdays: [1], at: '18:30' } }),
    // The clock advances by a millisecond each time it is read.
    head: () => ({ lineName: 'Line', runId: null, timeZone: 'UTC', nowMs: nowMs++, answerSecret: 'secret' }),
    send: () => {},
    recordAction: (what) => void logged.push(what),
  });
  drills.start();
  drills.tick();
  nowMs = dueMs - 2000;
  drills.tick();
  nowMs = dueMs + 1000;
  drills.tick();
  expect(logged).toEqual(['Started alarm test 1.']);
  nowMs = dueMs + 11 * 60_000;
  drills.tick();
  drills.tick();
  expect(logged).toEqual(['Started alarm test 1.', 'Alarm test 1: No one was reached.']);
});
