import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { Channel, ChannelState } from '../../server/calling/channel.ts';
import { DeliveryFailure } from '../../server/notify/delivery.ts';
import { Lane } from '../../server/notify/lane.ts';
import { Outbox } from '../../server/notify/outbox.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';

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
const away = (words: string) => new DeliveryFailure('again', words, 'It is tried again.');

let under: NotifierUnderTest;
beforeEach(async () => {
  under = await startNotifier();
});
afterEach(() => under.remove());

describe('a lane', () => {
  it('tells its state when it becomes another, not each time that the same is reported', () => {
    const told: ChannelState[] = [];
    let nowMs = 1000;
    const log = { info: () => {}, warn: () => {}, error: () => {} };
    const lane = new Lane({
      channel,
      adapter: { send: async () => {} },
      outbox: new Outbox(under.store.people, () => nowMs, log),
      clock: () => nowMs,
      log,
      attemptMs: 1000,
      state: { phase: 'untried', sinceMs: 0, words: '', remedy: '', lastDeliveredMs: null },
      pageAddress: () => '',
      picture: async () => null,
      stateChanged: (state) => void told.push(state),
      gone: () => {},
    });
    const report = (failure: DeliveryFailure | null, times: number) => {
      for (let i = 0; i < times; i++) {
        nowMs += 5000;
        lane.report(failure);
      }
    };
    report(away('Nothing listens.'), 50);
    report(away('The name is not known.'), 50);
    report(null, 50);
    expect(told.map(({ phase, sinceMs, words }) => [phase, sinceMs, words])).toEqual([
      // The third report in a row makes a failure.
      ['failing', 16_000, 'Nothing listens.'],
      ['failing', 16_000, 'The name is not known.'],
      ['working', 506_000, ''],
    ]);
  });
});
