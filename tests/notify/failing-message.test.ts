import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { Message } from '../../server/escalation/message.ts';
import { testText } from '../../server/escalation/message.ts';
import { ATTEMPT_MS, ChannelQueue } from '../../server/notify/channel-queue.ts';
import { DeliveryFailure } from '../../server/notify/delivery.ts';
import { Outbox } from '../../server/notify/outbox.ts';
import { seeded } from '../chance.ts';
import { tries } from '../long-check.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';
import { UNTRIED_QUEUE } from './untried-queue.ts';

const channel = {
  id: 1,
  name: 'Hook',
  settings: { kind: 'webhook', url: 'http://127.0.0.1:9/', secret: '', template: '' },
} as const;
const log = { info: () => {}, warn: () => {}, error: () => {} };
const MINUTE_MS = 60_000;

let under: NotifierUnderTest;
let queue: ChannelQueue;
let outbox: Outbox;
/** The attempts in order: when, and whether the receiver accepted. */
let tried: { text: string; atMs: number; delivered: boolean }[];
let answer: (text: string) => DeliveryFailure | null;
/** Deliveries wait for this. */
let taking: (text: string) => Promise<void>;

beforeEach(async () => {
  under = await startNotifier();
  vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout', 'Date'], now: Date.UTC(2026, 0, 1) });
  tried = [];
  answer = () => null;
  taking = async () => {};
  start();
});

function start(attemptMs = 1000): void {
  outbox = new Outbox(under.store.people, () => Date.now(), log);
  outbox.start();
  queue = new ChannelQueue({
    channel,
    adapter: {
      async send({ text }) {
        await taking(text);
        const failure = answer(text);
        tried.push({ text, atMs: Date.now(), delivered: failure === null });
        if (failure !== null) throw failure;
      },
    },
    outbox,
    clock: () => Date.now(),
    log,
    attemptMs,
    ...UNTRIED_QUEUE,
  });
  queue.start();
}
afterEach(async () => {
  await queue.stop();
  vi.useRealTimers();
  await under.remove();
});

const again = (retryAfterMs: number | null = null) =>
  new DeliveryFailure('retry', 'It answered with status 500.', 'It will be tried again.', { retryAfterMs });

const unreached = () =>
  new DeliveryFailure('retry', 'Nothing is listening there.', 'Is it running?', { isUnreached: true });

function raise(text: string, alarmId: number | null = null, priority: Message['priority'] = 'high'): void {
  const sample = testText('Hook', Date.now());
  const message: Message = {
    ...sample,
    kind: 'raised',
    text,
    key: text,
    conversation: text,
    alarmId,
    priority,
    lineName: '',
    clock: '',
    answerPath: null,
    picture: null,
  };
  outbox.put(
    [],
    [{ channelId: 1, to: 'Ada', message, drillId: null, expiresMs: Date.now() + 720 * MINUTE_MS }],
    new Set(),
  );
  queue.kick();
}
const pass = (ms: number) => vi.advanceTimersByTimeAsync(ms);
/** While the receiver hangs, a stop waits for some seconds. */
async function stop(): Promise<void> {
  const stopped = queue.stop();
  await pass(5000);
  await stopped;
}
const texts = (delivered: boolean) => tried.filter((one) => one.delivered === delivered).map(({ text }) => text);

describe('an urgent message', () => {
  it('does not wait for an earlier one that always fails; that one is retried with growing pauses', async () => {
    answer = (text) => (text === 'never' ? again() : null);
    raise('never', 1);
    for (const text of ['a', 'b', 'c']) raise(text, 1);
    await pass(10);
    expect(texts(true)).toEqual(['a', 'b', 'c']);
    await pass(60 * MINUTE_MS);
    raise('an hour later', 1);
    await pass(10);
    expect(texts(true).at(-1)).toBe('an hour later');
    const times = tried.filter(({ text }) => text === 'never').map(({ atMs }) => atMs);
    const pauses = times.slice(1).map((atMs, i) => (atMs - times[i]!) / 1000);
    expect(pauses.slice(0, 9).map(Math.round)).toEqual([1, 2, 4, 8, 16, 32, 64, 120, 120]);
    answer = () => null;
    await pass(2 * MINUTE_MS);
    // Each at least once, and none again after it was accepted.
    expect(texts(true)).toEqual(['a', 'b', 'c', 'an hour later', 'never']);
    expect(outbox.count(1)).toBe(0);
  });

  it('is sent in order while nothing fails', async () => {
    const all = Array.from({ length: 20 }, (_, i) => `message ${i}`);
    for (const text of all) raise(text);
    await pass(10);
    expect(texts(true)).toEqual(all);
  });

  it('is tried once while the receiver is down, and sent with all others as soon as one of them is delivered', async () => {
    answer = () => again();
    const all = Array.from({ length: 30 }, (_, i) => `message ${i}`);
    for (const text of all) raise(text);
    await pass(20 * MINUTE_MS);
    // Once each, and in all as often as one message alone would be: after 1, 2, 4 … 64 s, then every two minutes.
    expect(tried.length).toBeGreaterThanOrEqual(30 + 10);
    expect(tried.length).toBeLessThanOrEqual(30 + 17);
    answer = () => null;
    await pass(2 * MINUTE_MS);
    expect(texts(true).sort()).toEqual([...all].sort());
    const times = tried.filter(({ delivered }) => delivered).map(({ atMs }) => atMs);
    expect(Math.max(...times) - Math.min(...times)).toBeLessThan(1000);
  });

  it('respects a Retry-After that the receiver gave in answer to another message', async () => {
    answer = () => again(90_000);
    raise('first');
    await pass(10);
    answer = () => null;
    raise('second');
    await pass(89_000);
    expect(texts(true)).toEqual([]);
    await pass(2000);
    expect(texts(true).sort()).toEqual(['first', 'second']);
  });

  it('does not wait for a message about another alarm that the receiver has not answered yet', async () => {
    answer = () => again();
    raise('first of alarm 1', 1);
    await pass(10);
    answer = () => null;
    let answered = () => {};
    taking = (text) =>
      text === 'first of alarm 1' ? new Promise((resolve) => (answered = resolve)) : Promise.resolve();
    // Now it is retried.
    await pass(1000);
    raise('second of alarm 1', 1);
    raise('of alarm 2', 2);
    await pass(10);
    expect(texts(true)).toEqual(['of alarm 2']);
    answered();
    await pass(10);
    expect(texts(true)).toEqual(['of alarm 2', 'first of alarm 1', 'second of alarm 1']);
  });

  it('is sent soon after a start with the correct clock, though the clock was years ahead when it failed', async () => {
    vi.setSystemTime(Date.UTC(2036, 0, 1));
    answer = () => again();
    raise('put off');
    await pass(30 * MINUTE_MS);
    await queue.stop();
    vi.setSystemTime(Date.UTC(2026, 0, 1));
    tried = [];
    answer = () => null;
    start();
    await pass(2 * MINUTE_MS);
    expect(texts(true)).toEqual(['put off']);
  });

  it('expires at its proper time after such a start', async () => {
    vi.setSystemTime(Date.UTC(2036, 0, 1));
    answer = () => again();
    raise('put off');
    await pass(10);
    await queue.stop();
    vi.setSystemTime(Date.UTC(2026, 0, 1));
    start();
    await pass(11 * 60 * MINUTE_MS);
    expect(outbox.count(1)).toBe(1);
    await pass(90 * MINUTE_MS);
    expect(outbox.count(1)).toBe(0);
  });
});

describe('a message that makes the receiver hang', () => {
  it('holds up later ones of its alarm for minutes at most, and those of other alarms not at all', async () => {
    await queue.stop();
    start(ATTEMPT_MS);
    taking = (text) => (text === 'hangs' ? new Promise(() => {}) : Promise.resolve());
    raise('hangs', 1);
    await pass(MINUTE_MS);
    for (const [text, alarm] of [
      ['later', 1],
      ['other', 2],
    ] as const)
      raise(text, alarm);
    await pass(30_000);
    expect(texts(true)).toEqual(['other']);
    await pass(2 * MINUTE_MS);
    expect(texts(true)).toEqual(['other', 'later']);
    await stop();
  });

  it('does not hold up a more urgent one of its alarm', async () => {
    await queue.stop();
    start(ATTEMPT_MS);
    taking = (text) => (text === 'hangs' ? new Promise(() => {}) : Promise.resolve());
    raise('hangs', 1, 'medium');
    // The first attempt has failed, the second not begun.
    await pass(ATTEMPT_MS + 500);
    raise('urgent', 1);
    await pass(200);
    expect(texts(true)).toEqual(['urgent']);
    await stop();
  });
});

describe('a receiver that hangs', () => {
  it('gets an urgent message after an earlier urgent one, though a less urgent one of their alarm is earlier still', async () => {
    await queue.stop();
    start(ATTEMPT_MS);
    taking = () => new Promise(() => {});
    raise('first', 1, 'medium');
    await pass(61_000);
    raise('second', 1);
    await pass(55_000);
    raise('third', 1);
    await pass(4000);
    // What is on its way is not answered any more.
    taking = () => new Promise((resolve) => setTimeout(resolve, 300));
    await pass(3 * MINUTE_MS);
    expect(texts(true).filter((text) => text !== 'first')).toEqual(['second', 'third']);
    expect(outbox.count(1)).toBe(0);
  });
});

describe('a receiver that is reached again after minutes of attempts without an answer', () => {
  it('gets many messages of one alarm in order, though all wait for the same connection', async () => {
    await queue.stop();
    start(ATTEMPT_MS);
    let connection: Promise<void> | null = null;
    const isOther = (text: string) => text.startsWith('other');
    taking = (text) => (isOther(text) ? Promise.resolve() : (connection ?? new Promise(() => {})));
    answer = (text) => (isOther(text) ? again() : null);
    const all = Array.from({ length: 9 }, (_, i) => `message ${i}`);
    for (const text of all) raise(text, 1);
    // It answers about another alarm, so it does not count as hanging.
    for (let i = 0; i < 75; i++) {
      await pass(4000);
      raise(`other ${i}`, 2, 'medium');
    }
    let connect = () => {};
    connection = new Promise((resolve) => (connect = resolve));
    await pass(10_000);
    connect();
    answer = () => null;
    await pass(4 * MINUTE_MS);
    expect(texts(true).filter((text) => !isOther(text))).toEqual(all);
  });
});

describe('a receiver that cannot be reached', () => {
  it.each(['high', 'low'] as const)(
    'gets a message after an earlier one (%s) of its alarm, though it is back between attempts at the two',
    async (priority) => {
      answer = unreached;
      raise('first', 1, priority);
      await pass(10);
      answer = () => (tried.at(-1)?.text === 'first' && tried.length > 1 ? null : unreached());
      raise('second', 1);
      raise('third', 1);
      await pass(10);
      expect(texts(true)).toEqual([]);
      answer = () => null;
      await pass(5000);
      expect(texts(true)).toEqual(['first', 'second', 'third']);
    },
  );

  it('is tried as often for many messages of one alarm as for one', async () => {
    answer = unreached;
    for (let i = 0; i < 30; i++) raise(`message ${i}`, 1);
    await pass(20 * MINUTE_MS);
    expect(tried.length).toBeLessThanOrEqual(2 * 30 + 17);
    answer = () => null;
    await pass(2 * MINUTE_MS);
    expect(texts(true)).toEqual(Array.from({ length: 30 }, (_, i) => `message ${i}`));
  });
});

describe('a receiver that takes longer to answer than a first attempt', () => {
  it('gets each message once as soon as it has accepted one', async () => {
    await queue.stop();
    start(ATTEMPT_MS);
    taking = () => new Promise((resolve) => setTimeout(resolve, 1.5 * ATTEMPT_MS));
    for (const text of ['first', 'second']) raise(text, 1);
    await pass(5 * MINUTE_MS);
    expect(new Set(texts(true))).toEqual(new Set(['first', 'second']));
    tried = [];
    for (const text of ['third', 'fourth']) raise(text, 1);
    await pass(5 * MINUTE_MS);
    expect(texts(true)).toEqual(['third', 'fourth']);
    expect(outbox.count(1)).toBe(0);
  });
});

describe('a receiver that hangs, is down or cannot be reached for hours, again and again', () => {
  it('gets all messages in the end, those of one alarm in their order, and each once', async () => {
    await queue.stop();
    start(ATTEMPT_MS);
    const random = seeded(17);
    const between = (low: number, high: number) => low + random() * (high - low);
    const STATES = ['works', 'hangs', 'down', 'away'] as const;
    let state: (typeof STATES)[number] = 'works';
    // What it gets while it hangs is not answered later, either.
    taking = () =>
      state === 'hangs' ? new Promise(() => {}) : new Promise((resolve) => setTimeout(resolve, between(1, 20)));
    answer = () => {
      const was = state;
      // It is back between this attempt and the next.
      if (was === 'away' && between(0, 1) < 0.1) state = 'works';
      return was === 'away' ? unreached() : was === 'down' ? again() : null;
    };
    const sent: string[] = [];
    const work = async (minutes: number) => {
      for (const endMs = Date.now() + minutes * MINUTE_MS; Date.now() < endMs; ) {
        // The receiver changes between two messages.
        await pass(between(0.1, 2) * MINUTE_MS);
        const alarm = Math.floor(between(1, 4));
        const text = `alarm ${alarm}: message ${sent.length}`;
        sent.push(text);
        raise(text, alarm, between(0, 1) < 0.5 ? 'high' : 'medium');
        await pass(between(0, 2) * MINUTE_MS);
      }
    };
    for (let night = 0; night < tries(50); night++) {
      state = STATES[Math.floor(between(1, 4))]!;
      await work(between(0.1, 40));
      if (between(0, 1) < 0.3) {
        await stop();
        start(ATTEMPT_MS);
        await work(between(0.1, 5));
      }
      state = 'works';
      await work(between(0.1, 10));
    }
    await pass(5 * MINUTE_MS);
    const delivered = texts(true);
    expect(delivered.toSorted()).toEqual(sent.toSorted());
    for (const alarm of [1, 2, 3]) {
      const ofAlarm = (text: string) => text.startsWith(`alarm ${alarm}:`);
      expect(delivered.filter(ofAlarm)).toEqual(sent.filter(ofAlarm));
    }
    expect(outbox.count(1)).toBe(0);
  });
});
