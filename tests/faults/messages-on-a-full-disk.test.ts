/** Alarms are sent even if the record cannot be written; they are written when there is space again. */
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { RecordFailing } from '../../server/store/index.ts';
import { type Answer, HttpReceiver } from '../notify/http-receiver.ts';
import { type NotifierUnderTest, startNotifier } from '../notify/notifier-under-test.ts';
import { until } from '../service/running-service.ts';

let receiver: HttpReceiver;
let under: NotifierUnderTest;
beforeEach(async () => {
  receiver = await new HttpReceiver().start();
  under = await startNotifier({ attemptMs: 2000 });
  const hook = { kind: 'webhook', url: receiver.url, secret: '', template: '' } as const;
  under.addPerson('Ada', [await under.addChannel('Hook', hook)]);
});
afterEach(async () => {
  under.store.room(null);
  await under.remove();
  await receiver.stop();
});

/** More than fits into the free space of pages that the database already has. */
const long = (text: string) => `${text} ${'x'.repeat(30_000)}`;
const texts = () => receiver.bodies.map(({ data }) => String(data.text).split(' ')[0]);
const came = (count: number) => until(texts, (list) => list.length >= count, `${count} messages`, 30_000);
const recorded = () => {
  const { people } = under.store;
  const entries = [...people.waiting(), ...people.ended({ dead: false, limit: 50 })];
  return entries.map(({ message, state }) => `${message.text.split(' ')[0]} ${state}`).sort();
};

describe('messages on a full disk', () => {
  it('are delivered despite failures of the receiver, and are in the record when there is space again', async () => {
    under.store.room(0);
    const script: Answer[] = [{ status: 500 }, 'break'];
    receiver.answerTo = ({ body }) => (/First/.test(body.toString()) ? (script.shift() ?? null) : null);
    under.raise({ sentence: long('First') });
    under.raise({ sentence: long('Second') });
    await came(4);
    expect(texts()).toEqual(['First', 'Second', 'First', 'First']);
    expect(under.logged.join('\n')).toMatch(/Cannot write messages: .* is full/);
    // Logged once, however often it is tried.
    expect(under.logged.filter((line) => /Cannot write messages/.test(line))).toHaveLength(1);
    expect(recorded()).toEqual([]);
    // A user's entry is refused with an error.
    const pageAddress = `https://line.example/${'x'.repeat(30_000)}`;
    expect(() => under.setRules({ pageAddress })).toThrow(RecordFailing);
    expect(under.notifier.overview().rules.pageAddress).toBe('');

    under.store.room(null);
    await until(recorded, (list) => list.length === 2, 'both are in the record');
    expect(recorded()).toEqual(['First delivered', 'Second delivered']);
    expect(under.logged.join('\n')).toMatch(/The record can be written again/);
    // Written to the journal late, but delivered before: nothing is sent twice.
    await under.restart();
    under.raise({ sentence: 'Third' });
    await came(5);
    expect(texts().slice(4)).toEqual(['Third']);
  });

  it('that still wait when there is space again survive a restart', async () => {
    receiver.otherwise = { status: 500 };
    under.store.room(0);
    under.raise({ sentence: long('First') });
    await came(1);
    under.store.room(null);
    await until(recorded, (list) => list.length === 1, 'it is in the record');
    expect(recorded()).toEqual(['First waiting']);
    await under.restart();
    receiver.otherwise = { status: 204 };
    await until(recorded, ([state]) => state === 'First delivered', 'it is delivered', 30_000);
    const ids = new Set(receiver.received.map(({ headers }) => headers['webhook-id']));
    expect(ids.size).toBe(1);
  });
});
