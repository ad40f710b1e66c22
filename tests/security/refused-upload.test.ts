/** A refusal that comes before the end of a body must not leave the connection waiting for the rest. */
import { connect } from 'node:net';
import { afterAll, beforeAll, expect, it } from 'vitest';
import { startTestService, type TestService } from '../api/test-service.ts';

let service: TestService;
beforeAll(async () => {
  service = await startTestService('simulator:steady');
});
afterAll(() => service.stop());

it.each([
  ['a type that is not taken', 'POST /api/recording', 'image/png', 90_000_000, 415],
  ['a body that is too large', 'PUT /api/settings', 'application/json', 90_000_000, 413],
  ['a log that will be too large', 'POST /api/recording', 'text/plain', 3_000_000_000, 422],
])('closes the connection after refusing %s', async (_what, target, type, bytes, status) => {
  const { hostname, port } = new URL(service.address);
  const socket = connect(Number(port), hostname);
  let received = '';
  let closed = false;
  socket.on('data', (chunk) => {
    received += chunk;
  });
  socket.on('error', () => {});
  socket.on('end', () => {
    closed = true;
  });
  socket.write(
    `${target} HTTP/1.1\r\nHost: ${hostname}:${port}\r\nContent-Type: ${type}\r\nContent-Length: ${bytes}\r\n\r\n{`,
  );
  await expect.poll(() => received, { timeout: 5000 }).toMatch(new RegExp(`^HTTP/1.1 ${status} `));
  await expect.poll(() => closed, { timeout: 2000 }).toBe(true);
  expect(received).toMatch(/\r\nconnection: close\r\n/i);
  socket.destroy();
});
