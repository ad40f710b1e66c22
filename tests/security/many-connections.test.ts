/** Connections that someone on the network opens and does not close, to use up the file descriptors by which alarms are sent. */
import { once } from 'node:events';
import { request } from 'node:http';
import { connect, createServer, Socket } from 'node:net';
import { networkInterfaces } from 'node:os';
import { describe, expect, it } from 'vitest';
import { limitConnections } from '../../server/api/connection-limit.ts';
import { MUTE, startTestService } from '../api/test-service.ts';
import { until } from '../service/running-service.ts';

/** An address of this machine at which it is reached like another one; there is none without a network. */
const OUTSIDE = Object.values(networkInterfaces())
  .flatMap((some) => some ?? [])
  .find(({ internal, family }) => !internal && family === 'IPv4')?.address;

const statusFrom = (host: string, port: number) =>
  new Promise<number | string>((resolve) => {
    const asked = request({ host, port, path: '/health', agent: false }, (reply) => {
      reply.resume();
      resolve(reply.statusCode ?? 0);
    });
    asked.on('error', ({ message }) => resolve(message));
    asked.end();
  });

describe.skipIf(OUTSIDE === undefined)('the service on the network', () => {
  it('holds a few hundred connections from one address, answers this machine meanwhile, and that address afterwards', async () => {
    const service = await startTestService(MUTE, {}, undefined, null, { host: '0.0.0.0' });
    const host = OUTSIDE ?? '';
    const port = Number(new URL(service.address).port);
    const held: Socket[] = [];
    try {
      for (let i = 0; i < 500; i++) {
        const socket = connect(port, host).on('error', () => {});
        await once(socket, 'connect');
        socket.write('GET /health HTTP/1.1\r\n');
        held.push(socket);
      }
      const open = () => held.filter((socket) => !socket.closed).length;
      await until(open, (left) => left <= 400, 'connections that are closed');
      expect(open()).toBe(400);
      expect(await statusFrom('127.0.0.1', port)).toBe(200);
      expect(await statusFrom(host, port)).toMatch(/ECONNRESET|socket hang up/);
      for (const socket of held) socket.destroy();
      await until(
        () => statusFrom(host, port),
        (status) => status === 200,
        'an answer',
      );
    } finally {
      for (const socket of held) socket.destroy();
      await service.stop();
    }
  });
});

describe('the limit of open connections', () => {
  /** A connection from this address, as the server gets it. */
  function socketFrom(address: string): Socket {
    return Object.defineProperty(new Socket(), 'remoteAddress', { value: address });
  }
  function start() {
    const refused: string[] = [];
    const server = createServer();
    limitConnections(server, (address, open) => refused.push(`${address}: ${open}`));
    const open = (address: string) => {
      const socket = socketFrom(address);
      server.emit('connection', socket);
      return socket;
    };
    return { refused, open };
  }

  it('counts the addresses of an IPv6 network as one, and reports it once', () => {
    const { refused, open } = start();
    const sockets = Array.from({ length: 500 }, (_, i) => open(`2001:db8::${(i + 1).toString(16)}`));
    expect(sockets.filter(({ destroyed }) => !destroyed)).toHaveLength(400);
    expect(refused).toEqual(['2001:db8::191: 400']);
    expect(open('2001:db8:0:1::1').destroyed).toBe(false);
  });

  it('also limits all together, but never this machine', () => {
    const { refused, open } = start();
    const sockets = Array.from({ length: 1000 }, (_, i) => open(`192.0.2.${1 + (i % 250)}`));
    expect(sockets.filter(({ destroyed }) => !destroyed)).toHaveLength(800);
    expect(refused).toEqual(['192.0.2.51: 800']);
    for (const address of ['127.0.0.1', '::1', '::ffff:127.0.0.1']) expect(open(address).destroyed).toBe(false);
  });

  it('reports it again when it happens again', async () => {
    const { refused, open } = start();
    const flood = async () => {
      const sockets = Array.from({ length: 401 }, () => open('192.0.2.1'));
      const closed = sockets.map((socket) => once(socket, 'close'));
      for (const socket of sockets) socket.destroy();
      await Promise.all(closed);
    };
    await flood();
    await flood();
    expect(refused).toEqual(['192.0.2.1: 400', '192.0.2.1: 400']);
  });
});
