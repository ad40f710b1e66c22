import { afterEach, beforeEach, expect, it } from 'vitest';
import { type Message, testText } from '../../server/escalation/message.ts';
import { Mqtt } from '../../server/notify/mqtt.ts';
import { until } from '../service/running-service.ts';
import { SmallBroker } from './small-broker.ts';

const BASE = 'workshop/line-1';
const ATTEMPT_MS = 50;

let broker: SmallBroker;
const on = (topic: string) => broker.on(`${BASE}/${topic}`);

const message = (key: string): Message => ({
  ...testText('House', 0),
  key,
  conversation: key,
  lineName: '',
  clock: '',
  answerPath: null,
  picture: null,
});

beforeEach(async () => {
  broker = await new SmallBroker().start();
});
afterEach(() => broker.stop());

it('holds nothing that a hanging broker of MQTT 3.1.1 does not acknowledge, and delivers each message once when it does', async () => {
  const { address } = broker;
  const phases: boolean[] = [];
  const notes: string[] = [];
  const mqtt = new Mqtt(
    { kind: 'mqtt', address, user: '', password: '', certificate: '', baseTopic: BASE },
    {
      report: (failure) => void phases.push(failure === null),
      log: { info: (text) => void notes.push(text) },
      acknowledgesWithinMs: ATTEMPT_MS,
    },
  );
  const show = (sentence: string) => mqtt.show({ atMs: 0, important: sentence, json: () => sentence });
  const send = (key: string, withinMs = 5000) => {
    const signal = AbortSignal.timeout(withinMs);
    return mqtt.send(message(key), { signal, pageAddress: '', picture: async () => null });
  };
  mqtt.start();
  await until(
    () => on('availability').length,
    (count) => count > 0,
    'a connection',
  );
  for (let i = 0; i < 50; i++) show(`state ${i}`);
  await until(
    () => broker.open.size,
    (count) => count === 0,
    'the connection is given up, because no state is acknowledged',
  );
  expect(on('state')).toHaveLength(1);
  expect(phases).toEqual([true, false]);
  expect(notes).toEqual(['The broker does not speak MQTT 5, so 3.1.1 is used']);

  for (let i = 0; i < 5; i++) await expect(send('blob', ATTEMPT_MS)).rejects.toThrow(/did not answer in time/);
  // On a busy machine an attempt may end before there is a connection.
  expect(on('messages').length).toBeLessThanOrEqual(5);

  await until(
    () => broker.open.size,
    (count) => count === 0,
    'the last attempt is given up: what is still on its way would be acknowledged, too',
  );
  broker.acknowledges = true;
  await send('blob');
  await send('cold');
  show('the latest');
  await until(
    () => on('state').at(-1),
    (state) => state?.acknowledged === true && /the latest/.test(state.text),
    'the latest state',
  );
  const accepted = on('messages').filter(({ acknowledged }) => acknowledged);
  expect(accepted.map(({ text }) => JSON.parse(text).key)).toEqual(['blob', 'cold']);
  // Each begins with an attempt by MQTT 5.
  expect(broker.connections).toBeLessThanOrEqual(14);

  broker.acknowledges = false;
  const stopping = mqtt.stop();
  await until(
    () => broker.open.size,
    (count) => count === 0,
    'the connection is closed although “stopped” was not acknowledged',
  );
  await stopping;
});

it('is what fails, and not the message on its way, when it acknowledges no state', async () => {
  const mqtt = new Mqtt(
    { kind: 'mqtt', address: broker.address, user: '', password: '', certificate: '', baseTopic: BASE },
    { report: () => {}, log: { info: () => {} }, acknowledgesWithinMs: ATTEMPT_MS },
  );
  mqtt.start();
  await until(
    () => on('availability').length,
    (count) => count > 0,
    'a connection',
  );
  const sent = mqtt.send(message('blob'), {
    signal: AbortSignal.timeout(60_000),
    pageAddress: '',
    picture: async () => null,
  });
  mqtt.show({ atMs: 0, important: '', json: () => '{}' });
  await expect(sent).rejects.toMatchObject({ isUnreached: true });
  await mqtt.stop();
});

// PUBLISH with QoS 0 (MQTT 3.1.1, section 3.3), and the first megabyte of a packet of 256 (section 2.2.3).
it.each([
  ['messages', Buffer.from('300700026162636465', 'hex')],
  ['a packet without end', Buffer.concat([Buffer.from('30ffffff7f', 'hex'), Buffer.alloc(1_000_000)])],
])('leaves a broker that floods it with %s', async (_what, bytes) => {
  broker.flood = (socket) => void socket.write(bytes);
  const failures: string[] = [];
  const mqtt = new Mqtt(
    {
      kind: 'mqtt',
      address: broker.address,
      user: '',
      password: '',
      certificate: '',
      baseTopic: BASE,
    },
    { report: (failure) => void (failure && failures.push(failure.message)), log: { info: () => {} } },
  );
  mqtt.start();
  await until(
    () => failures.length > 0 && broker.open.size === 0,
    (left) => left,
    'the connection is given up',
  );
  expect(failures[0]).toMatch(/sends what no one asked for/);
  await mqtt.stop();
});
