import { once } from 'node:events';
import { createServer, type Server, type Socket } from 'node:net';

const [CONNECT, PUBLISH, PINGREQ] = [1, 3, 12];

/** What a client sent, and whether the broker acknowledged it. */
export interface Published {
  readonly topic: string;
  readonly text: string;
  readonly acknowledged: boolean;
}

/** A broker that takes connections, packets and pings, and hangs when told to. By MQTT 3.1.1, sections 2 and 3: CONNACK, PUBACK and PINGRESP. */
export class SmallBroker {
  acknowledges = false;
  /** What it sends once it has accepted a connection. */
  flood: ((socket: Socket) => void) | null = null;
  connections = 0;
  readonly open = new Set<Socket>();
  readonly published: Published[] = [];
  readonly #server: Server = createServer((socket) => this.#converse(socket));

  async start(): Promise<this> {
    this.#server.listen(0, '127.0.0.1');
    await once(this.#server, 'listening');
    return this;
  }

  get address(): string {
    return `mqtt://127.0.0.1:${(this.#server.address() as { port: number }).port}`;
  }

  stop(): void {
    for (const socket of this.open) socket.destroy();
    this.#server.close();
  }

  on(topic: string): Published[] {
    return this.published.filter((one) => one.topic === topic);
  }

  #converse(socket: Socket): void {
    this.connections += 1;
    this.open.add(socket);
    socket.on('close', () => this.open.delete(socket));
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
        if (type === CONNECT && body[6] === 4 && this.flood !== null) this.flood(socket);
        if (type === PINGREQ) socket.write(Buffer.from([0xd0, 0]));
        if (type !== PUBLISH) continue;
        const topicEnd = 2 + body.readUInt16BE(0);
        const [topic, text] = [body.toString('utf8', 2, topicEnd), body.toString('utf8', topicEnd + (qos > 0 ? 2 : 0))];
        this.published.push({ topic, text, acknowledged: this.acknowledges });
        if (this.acknowledges && qos > 0) socket.write(Buffer.from([0x40, 2, body[topicEnd]!, body[topicEnd + 1]!]));
      }
    });
  }
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
