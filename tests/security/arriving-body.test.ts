/** A body that stalls or trickles must not keep its connection, or the place of the next upload, for ever. */
import { once } from 'node:events';
import { createServer, type IncomingMessage, request } from 'node:http';
import { type AddressInfo, connect } from 'node:net';
import { PassThrough, Readable } from 'node:stream';
import { expect, it } from 'vitest';
import { arrivingBody, dropRest } from '../../server/api/arriving-body.ts';

const WINDOW_MS = 200;

it.each([
  ['stops', 0],
  ['trickles', 20],
])('gives up an upload that %s, and can still answer', async (_what, everyMs) => {
  const server = createServer(async (upload, reply) => {
    try {
      for await (const _chunk of arrivingBody(upload, WINDOW_MS));
      reply.writeHead(200);
    } catch (thrown) {
      reply.writeHead(400, { connection: 'close' });
      reply.write((thrown as { code: string }).code);
    }
    reply.end();
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as AddressInfo;
  const phone = request({ port, host: '127.0.0.1', method: 'POST', headers: { 'content-length': 1_000_000 } });
  phone.on('error', () => {});
  phone.write('d=1.75\n');
  const trickle = everyMs > 0 ? setInterval(() => phone.write('1'), everyMs) : undefined;
  const answer = await new Promise<IncomingMessage>((resolve) => phone.on('response', resolve));
  clearInterval(trickle);
  expect(answer.statusCode).toBe(400);
  expect((await answer.toArray()).join('')).toBe('upload-stalled');
  phone.destroy();
  await new Promise((resolve) => server.close(resolve));
});

it('passes an upload on completely, however long each part takes to process', async () => {
  const sent = Array.from({ length: 40 }, (_, i) => Buffer.alloc(16_384, i));
  const parts: Buffer[] = [];
  for await (const chunk of arrivingBody(Readable.from(sent, { objectMode: false }), 20)) {
    await new Promise((resolve) => setTimeout(resolve, 25));
    parts.push(chunk);
  }
  expect(Buffer.concat(parts).equals(Buffer.concat(sent))).toBe(true);
});

it('a body that nobody reads, because the request was refused, does not end the process when it stalls', async () => {
  const upload = new PassThrough();
  upload.write('never finished');
  // An error that no one hears of would be reported by the test runner.
  const body = arrivingBody(upload, WINDOW_MS);
  await expect.poll(() => body.closed).toBe(true);
});

it.each([
  ['is still arriving', 1_000_000] as const,
  ['has arrived, but is larger than what is kept ready for a reader', 40_000] as const,
])('a refused body that %s is dropped with the answer', async (_, announced) => {
  let refused: IncomingMessage | null = null;
  const server = createServer((request, response) => {
    refused = request;
    arrivingBody(request);
    response.once('close', () => dropRest(request));
    setTimeout(() => response.writeHead(415, { connection: 'close' }).end(), 50);
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const socket = connect((server.address() as AddressInfo).port, '127.0.0.1');
  socket.on('error', () => {});
  socket.write(`POST / HTTP/1.1\r\nHost: x\r\nContent-Length: ${announced}\r\n\r\n${'x'.repeat(40_000)}`);
  await expect.poll(() => refused?.closed).toBe(true);
  socket.destroy();
  server.close();
});
