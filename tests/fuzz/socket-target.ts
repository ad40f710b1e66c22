import { randomBytes } from 'node:crypto';
import { once } from 'node:events';
import { connect, createServer, type Server } from 'node:net';
import type { MqttSettings } from '../../server/escalation/channel.ts';
import type { Message } from '../../server/escalation/message.ts';
import { DeliveryFailure } from '../../server/notify/delivery.ts';
import { Mqtt } from '../../server/notify/mqtt.ts';
import type { Chooser } from './chooser.ts';
import { type FedService, startFedService, woundLine } from './fed-service.ts';
import type { FuzzTarget } from './fuzz.ts';

/** What a client of the live feed, or a broker, sends: pieces of bytes in hexadecimal. */
interface SocketInput {
  readonly to: 'feed' | 'mqtt';
  readonly pieces: readonly string[];
}

const CLOSED_WITHIN_MS = 5000;
const ATTEMPT_MS = 250;
const MESSAGE: Message = {
  key: 'fuzz',
  kind: 'test',
  priority: 'low',
  title: 'Test',
  text: 'A test.',
  firstCheck: '',
  caution: '',
  lineName: 'Bench line',
  atMs: 0,
  clock: '00:00',
  alarmId: null,
  urgency: null,
  why: '',
  conversation: 'fuzz',
  answerPath: null,
  picture: null,
};

/** Frames to the live feed (RFC 6455), and packets of a broker (MQTT 3.1.1 and 5) that answers something else than it should. */
export const socketTarget: FuzzTarget<SocketInput> = {
  name: 'sockets',
  unit: 'connections',
  casesInTest: 8,
  async open() {
    const service = await startFedService();
    const broker = await startBroker();
    let printed = 3000;
    return {
      make: (choose) => {
        const to = choose.chance(0.8) ? 'feed' : 'mqtt';
        const make = to === 'feed' ? frame : packet;
        return { to, pieces: Array.from({ length: 1 + choose.below(8) }, () => make(choose).toString('hex')) };
      },
      attempt: async ({ to, pieces }) => {
        const bytes = pieces.map((piece) => Buffer.from(piece, 'hex'));
        if (to === 'mqtt') await tryBroker(broker, bytes);
        else {
          service.feed(`${woundLine(printed++)}\n`);
          await tryFeed(service, bytes);
        }
        return 1;
      },
      close: async () => {
        broker.server.close();
        await service.stop();
      },
    };
  },
};

function frame(choose: Chooser): Buffer {
  const content = Buffer.from(choose.bytes(choose.oneOf([0, 1, 2, 100, 125, 126, 1025])));
  const text = choose.chance(0.5) ? Buffer.from(choose.oneOf(['{}', '{"kind":"state"}', 'null', '{', '😀'])) : content;
  // A third are as the standard wants them, the others have a wrong bit, length or code somewhere.
  const right = choose.chance(0.33);
  const opcode = right ? choose.oneOf([1, 2, 8, 9, 10]) : choose.below(16);
  const first = (right || choose.chance(0.7) ? 0x80 : 0) | (right ? 0 : choose.below(8) << 4) | opcode;
  const masked = right || choose.chance(0.7);
  const stated = right || choose.chance(0.8) ? text.length : choose.oneOf([0, 5, 2 ** 16, 2 ** 31, 2 ** 53, 2 ** 63]);
  const length = Buffer.alloc(stated < 126 ? 1 : stated < 65_536 ? 3 : 9);
  if (length.length === 1) length[0] = stated;
  else if (length.length === 3) length.writeUInt16BE(stated, 1);
  else length.writeBigUInt64BE(BigInt(stated), 1);
  if (length.length > 1) length[0] = length.length === 3 ? 126 : 127;
  length[0] = (length[0] ?? 0) | (masked ? 0x80 : 0);
  const mask = Buffer.from(choose.bytes(4));
  const body = masked ? Buffer.concat([mask, text.map((byte, i) => byte ^ (mask[i % 4] ?? 0))]) : text;
  return Buffer.concat([Buffer.from([first]), length, body]);
}

async function tryFeed(service: FedService, frames: readonly Buffer[]): Promise<void> {
  const { hostname, port } = new URL(service.address);
  const socket = connect(Number(port), hostname);
  // The service may close first: that is one of the right answers to garbage.
  socket.on('error', () => {});
  const closed = once(socket, 'close');
  socket.write(
    `GET /live HTTP/1.1\r\nHost: ${hostname}:${port}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: ${randomBytes(16).toString('base64')}\r\n\r\n`,
  );
  const [head] = (await once(socket, 'data')) as [Buffer];
  if (!head.toString('latin1').startsWith('HTTP/1.1 101'))
    throw new Error(`The feed answers ${head.toString('latin1', 0, 200)}`);
  socket.resume();
  for (const one of frames) socket.write(one);
  socket.end();
  const tooLate = setTimeout(() => socket.destroy(new Error('late')), CLOSED_WITHIN_MS);
  const [failed] = (await closed) as [boolean];
  clearTimeout(tooLate);
  if (failed && socket.errored?.message === 'late')
    throw new Error('The feed does not close a connection that its client closed.');
  const { status } = await service.bytes('/health');
  if (status !== 200) throw new Error(`The service answers ${status} after a frame.`);
}

interface Broker {
  readonly server: Server;
  readonly port: number;
  /** What it answers to each piece that arrives. */
  answers: readonly Buffer[];
}

async function startBroker(): Promise<Broker> {
  const broker = { answers: [] as readonly Buffer[] };
  const server = createServer((socket) => {
    let next = 0;
    socket.on('error', () => {});
    socket.on('data', () => {
      const answer = broker.answers[next++];
      if (answer === undefined) socket.end();
      else socket.write(answer);
    });
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  return Object.assign(broker, { server, port: (server.address() as { port: number }).port });
}

function packet(choose: Chooser): Buffer {
  // CONNACK, PUBACK, PUBLISH, SUBACK, PINGRESP as the standard has them, or with a wrong type, flag or length.
  const known = [
    '20020000',
    '20020005',
    '20020100',
    '2003000000',
    '2003008600',
    '400400018700',
    '40020001',
    '40020002',
    '3007000161626364',
    '9003000180',
    'd000',
  ];
  const bytes = Buffer.from(choose.oneOf(known), 'hex');
  if (choose.chance(0.4)) return bytes;
  const changed = choose.chance(0.3) ? Buffer.concat([bytes, Buffer.from(choose.bytes(choose.below(40)))]) : bytes;
  for (let times = choose.below(3); times >= 0; times--) changed[choose.below(changed.length)] = choose.below(256);
  return changed;
}

async function tryBroker(broker: Broker, answers: readonly Buffer[]): Promise<void> {
  broker.answers = answers;
  const settings: MqttSettings = {
    kind: 'mqtt',
    address: `mqtt://127.0.0.1:${broker.port}`,
    user: '',
    password: '',
    baseTopic: 'fuzz',
    certificate: '',
  };
  const adapter = new Mqtt(settings, { report: () => {}, log: { info: () => {} } });
  adapter.start();
  const signal = AbortSignal.timeout(ATTEMPT_MS);
  try {
    // As the outbox does, which gives up waiting even if the library does not.
    await Promise.race([
      adapter.send(MESSAGE, { signal, pageAddress: '', picture: async () => null }),
      new Promise((_, reject) =>
        signal.addEventListener('abort', () => reject(new DeliveryFailure('retry', 'late', ''))),
      ),
    ]);
  } catch (thrown) {
    if (!(thrown instanceof DeliveryFailure)) throw thrown;
  }
  await adapter.stop();
}
