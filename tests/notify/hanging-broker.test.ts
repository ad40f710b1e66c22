import { once } from 'node:events';
import { createServer, type Server, type Socket } from 'node:net';
import { afterEach, beforeEach, expect, it } from 'vitest';
import { testText } from '../../server/escalation/message.ts';
import { Mqtt } from '../../server/notify/mqtt.ts';
import { until } from '../service/running-service.ts';

const [CONNECT, PUBLISH, PINGREQ] = [1, 3, 12];
const BASE = 'workshop/line-1';
const ATTEMPT_MS = 50;

/** What a client sent, and whether the broker acknowledged it. */
interface Published {
  readonly topic: string;
  readonly text: string;
  readonly acknowledged: boolean;
}

let server: Server;
let acknowledges = false;
/** What it sends once it has accepted a connection. */
let flood: ((socket: Socket) => void) | null = null;
let connections = 0;
const open = new Set<Socket>();
const published: Published[] = [];
const on = (topic: string) => published.filter((one) => one.topic === `${BASE}/${topic}`);

/** Takes connections, packets and pings. By MQTT 3.1.1, sections 2 and 3: CONNACK, PUBACK and PINGRESP. */
function converse(socket: Socket): void {
  connections += 1;
  open.add(socket);
  socket.on('close', () => open.delete(socket));
  socket.on('error', () => {});
  let rest = Buffer.alloc(0);
  socket.on('data', (bytes: Buffer) => {
    rest = Buffer.concat([rest, bytes]);
    for (let packet = packetIn(rest); packet !== null; packet = packetIn(rest)) {
      rest = rest.subarray(packet.end);
      const { type, qos, body } = packet;
      // Byte 6 of the body is the version: this broker speaks 3.1.1 only, and refuses 5 as its table 3.1 says.
      if (type === CONNECT) socket.write(Buffer.from([0x20, 2, 0, body[6] === 4 ? 0 : 1]));
      if (type === CONNECT && body[6] !== 4) socket.end();
      if (type === CONNECT && body[6] === 4 && flood !== null) flood(socket);
      if (type === PINGREQ) socket.write(Buffer.from([0xd0, 0]));
      if (type !== PUBLISH) continue;
      const topicEnd = 2 + body.readUInt16BE(0);
      const [topic, text] = [body.toString('utf8', 2, topicEnd), body.toString('utf8', topicEnd + (qos > 0 ? 2 : 0))];
      published.push({ topic, text, acknowledged: acknowledges });
      if (acknowledges && qos > 0) socket.write(Buffer.from([0x40, 2, body[topicEnd]!, body[topicEnd + 1]!]));
    }
  });
}

/** The first whole packet; null = it has not arrived yet. */
function packetIn(bytes: Buffer): { type: number; qos: number; body: Buffer; end: number } | null {
  let length = 0;
  for (let at = 1; at < bytes.length; at++) {
    length += (bytes[at]! & 127) * 128 ** (at - 1);
    if (bytes[at]! >= 128) continue;
    const end = at + 1 + length;
    if (bytes.length < end) return null;
    return { type: bytes[0]! >> 4, qos: (bytes[0]! >> 1) & 3, body: bytes.subarray(at + 1, end), end };
  }
  return null;
}

beforeEach(async () => {
  server = createServer(converse).listen(0, '127.0.0.1');
  await once(server, 'listening');
});
afterEach(() => {
  for (const socket of open) socket.destroy();
  flood = null;
  server.close();
});

it('holds nothing that a hanging broker of MQTT 3.1.1 does not acknowledge, and delivers each message once when it does', async () => {
  const { port } = server.address() as { port: number };
  const address = `mqtt://127.0.0.1:${port}`;
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
    const message = {
      ...testText('House', 0),
      key,
      conversation: key,
      lineName: '',
      clock: '',
      answerPath: null,
      picture: null,
    };
    return mqtt.send(message, { signal, pageAddress: '', picture: async () => null });
  };
  mqtt.start();
  await until(
    () => on('availability').length,
    (count) => count > 0,
    'a connection',
  );
  for (let i = 0; i < 50; i++) show(`state ${i}`);
  await until(
    () => open.size,
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
    () => open.size,
    (count) => count === 0,
    'the last attempt is given up: what is still on its way would be acknowledged, too',
  );
  acknowledges = true;
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
  expect(connections).toBeLessThanOrEqual(14);

  acknowledges = false;
  const stopping = mqtt.stop();
  await until(
    () => open.size,
    (count) => count === 0,
    'the connection is closed although “stopped” was not acknowledged',
  );
  await stopping;
});

// PUBLISH with QoS 0 (MQTT 3.1.1, section 3.3), and the first megabyte of a packet of 256 (section 2.2.3).
it.each([
  ['messages', Buffer.from('300700026162636465', 'hex')],
  ['a packet without end', Buffer.concat([Buffer.from('30ffffff7f', 'hex'), Buffer.alloc(1_000_000)])],
])('leaves a broker that floods it with %s', async (_what, bytes) => {
  flood = (socket) => void socket.write(bytes);
  const { port } = server.address() as { port: number };
  const failures: string[] = [];
  const mqtt = new Mqtt(
    {
      kind: 'mqtt',
      address: `mqtt://127.0.0.1:${port}`,
      user: '',
      password: '',
      certificate: '',
      baseTopic: BASE,
    },
    { report: (failure) => void (failure && failures.push(failure.message)), log: { info: () => {} } },
  );
  mqtt.start();
  await until(
    () => failures.length > 0 && open.size === 0,
    (left) => left,
    'the connection is given up',
  );
  expect(failures[0]).toMatch(/sends what no one asked for/);
  await mqtt.stop();
});
