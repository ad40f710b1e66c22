import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Channel, ChannelState } from '../../server/escalation/channel.ts';
import { testText } from '../../server/escalation/message.ts';
import { attemptDelivery } from '../../server/notify/attempt-delivery.ts';
import { ChannelQueue } from '../../server/notify/channel-queue.ts';
import { DeliveryFailure } from '../../server/notify/delivery.ts';
import { Outbox } from '../../server/notify/outbox.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';
import { UNTRIED_QUEUE } from './untried-queue.ts';

const channel: Channel = {
  id: 1,
  name: 'Broker',
  settings: {
    kind: 'mqtt',
    address: 'mqtt://broker.example:1883',
    user: '',
    password: '',
    baseTopic: 'line',
    certificate: '',
  },
};
const away = (text: string) => new DeliveryFailure('retry', text, 'It is tried again.');

let under: NotifierUnderTest;
beforeEach(async () => {
  under = await startNotifier();
});
afterEach(() => under.remove());

/** An outbox, and how often it was asked what waits. */
function countingLooks(clock: () => number) {
  const outbox = new Outbox(under.store.people, clock, { info: () => {}, warn: () => {}, error: () => {} });
  const waiting = outbox.waiting.bind(outbox);
  let looks = 0;
  outbox.waiting = (...args) => {
    looks += 1;
    return waiting(...args);
  };
  return { outbox, looks: () => looks };
}

describe('the queue of a channel', () => {
  it('reports its state only when it changes', () => {
    const states: ChannelState[] = [];
    let nowMs = 1000;
    const log = { info: () => {}, warn: () => {}, error: () => {} };
    const queue = new ChannelQueue({
      channel,
      adapter: { send: async () => {} },
      outbox: new Outbox(under.store.people, () => nowMs, log),
      clock: () => nowMs,
      log,
      attemptMs: 1000,
      ...UNTRIED_QUEUE,
      stateChanged: (state) => void states.push(state),
    });
    const report = (failure: DeliveryFailure | null, times: number) => {
      for (let i = 0; i < times; i++) {
        nowMs += 5000;
        queue.report(failure);
      }
    };
    report(away('Nothing listens.'), 50);
    report(away('The name is not known.'), 50);
    report(null, 50);
    expect(states.map(({ phase, sinceMs, text }) => [phase, sinceMs, text])).toEqual([
      // Three failures in a row make it failing.
      ['failing', 16_000, 'Nothing listens.'],
      ['failing', 16_000, 'The name is not known.'],
      ['working', 506_000, ''],
    ]);
  });

  // Each look through all that waits takes time, so thousands of reports must not need one each.
  it('sends many reports oldest first, also after failures, with few looks through all that wait', async () => {
    const sent: string[] = [];
    let fails = 3;
    let nowMs = 1000;
    const log = { info: () => {}, warn: () => {}, error: () => {} };
    const { outbox, looks } = countingLooks(() => nowMs);
    const keys = Array.from({ length: 600 }, (_, i) => `report-${i}`);
    const entryOf = (key: string, i: number) => ({
      channelId: channel.id,
      to: 'programs',
      drillId: null,
      expiresMs: 1e12,
      message: {
        ...testText('Broker', 0),
        ...{ kind: 'alarmStep' as const, priority: 'low' as const, alarmId: Math.floor(i / 4) % 50 },
        ...{ key, conversation: key, lineName: '', clock: '', answerPath: null, picture: null },
      },
    });
    outbox.put([], keys.map(entryOf), new Set());
    const queue = new ChannelQueue({
      ...{ channel, outbox, log, attemptMs: 1000, clock: () => nowMs },
      adapter: {
        send: async ({ key }) => {
          // The third and what follows it at once.
          if (sent.length === 2 && fails-- > 0) throw away('Nothing listens.');
          sent.push(key);
        },
      },
      ...UNTRIED_QUEUE,
    });
    queue.start();
    for (let i = 0; sent.length < keys.length && i < 5000; i++) {
      await new Promise((resolve) => setImmediate(resolve));
      if (i % 100 === 99) {
        nowMs += 5000;
        queue.kick();
      }
    }
    await queue.stop();
    const alarmOf = (key: string) => Math.floor(keys.indexOf(key) / 4) % 50;
    for (let alarm = 0; alarm < 50; alarm++)
      expect(sent.filter((key) => alarmOf(key) === alarm)).toEqual(keys.filter((key) => alarmOf(key) === alarm));
    expect(sent.length).toBe(keys.length);
    expect(looks()).toBeLessThan(keys.length);
  });

  // Otherwise a receiver that hangs for hours slows the whole service down.
  it('looks at all that waits a few times for each attempt, also while the receiver hangs', async () => {
    let [attempts, nowMs] = [0, 1000];
    const log = { info: () => {}, warn: () => {}, error: () => {} };
    const { outbox, looks } = countingLooks(() => nowMs);
    const entryOf = (_: unknown, i: number) => ({
      channelId: channel.id,
      to: 'Ada',
      drillId: null,
      expiresMs: 1e12,
      message: {
        ...testText('Broker', 0),
        ...{ kind: 'again' as const, priority: i % 2 === 0 ? ('high' as const) : ('medium' as const), alarmId: i % 3 },
        ...{ key: `${i}`, conversation: `${i}`, lineName: '', clock: '', answerPath: null, picture: null },
      },
    });
    outbox.put([], Array.from({ length: 300 }, entryOf), new Set());
    const queue = new ChannelQueue({
      ...{ channel, outbox, log, attemptMs: 1000, clock: () => nowMs },
      adapter: {
        send: async () => {
          attempts += 1;
          // It took long to fail.
          nowMs += 5000;
          throw away('It did not answer.');
        },
      },
      ...UNTRIED_QUEUE,
    });
    const KICKS = 50;
    queue.start();
    for (let i = 0; i < KICKS; i++) {
      await new Promise((resolve) => setImmediate(resolve));
      nowMs += 5000;
      queue.kick();
    }
    await queue.stop();
    expect(attempts).toBeGreaterThan(5);
    // Each slot looks once.
    expect(looks()).toBeLessThan(10 * (attempts + KICKS));
  });

  it('logs where a fault in the program came from, without the secrets of the channel', async () => {
    const logged: object[] = [];
    const log = { info: () => {}, warn: () => {}, error: (_: string, facts?: object) => void logged.push(facts!) };
    const settings = { ...channel.settings, password: 'pass-of-the-broker' } as Channel['settings'];
    const send = async () => {
      throw new TypeError('no such part: pass-of-the-broker');
    };
    const message = { ...testText('Broker', 0), key: 'k', conversation: 'k', lineName: '', clock: '' };
    const context = { pageAddress: '', picture: async () => null };
    const failure = await attemptDelivery(
      { adapter: { send }, channel: { ...channel, settings }, log },
      { ...message, answerPath: null, picture: null },
      context,
      5000,
    );
    expect(failure).toMatchObject({ outcome: 'retry', remedy: 'See the log for details.' });
    expect(logged).toEqual([
      { channel: 'Broker', why: expect.stringMatching(/TypeError: no such part: …\n +at .*queue\.test/) },
    ]);
  });
});
