import { createServer, type Server, type Socket } from 'node:net';
import { afterEach, expect, test } from 'vitest';
import type { Source } from '../../server/source/source.ts';
import { type TcpSourceOptions, tcpSource } from '../../server/source/tcp-source.ts';
import { CollectingListener, until } from './collecting-listener.ts';

let server: Server | null = null;
let source: Source | null = null;
const sockets = new Set<Socket>();

afterEach(async () => {
  await source?.stop();
  await close();
  source = null;
});

async function listen(port = 0): Promise<number> {
  const made = createServer((socket) => {
    sockets.add(socket);
    socket.on('error', () => {}).on('close', () => sockets.delete(socket));
  });
  await new Promise<void>((resolve) => made.listen(port, '127.0.0.1', resolve));
  server = made;
  const address = made.address();
  if (address === null || typeof address === 'string') throw new Error('The server has no port.');
  return address.port;
}

async function close(): Promise<void> {
  const closing = server;
  server = null;
  for (const socket of sockets) socket.destroy();
  if (closing !== null) await new Promise((resolve) => closing.close(resolve));
}

function startWith(options: Partial<TcpSourceOptions> & { port: number }): CollectingListener {
  const listener = new CollectingListener();
  source = tcpSource({ host: '127.0.0.1', ...options }, () => 0);
  source.start(listener);
  return listener;
}

function send(text: string): void {
  for (const socket of sockets) socket.write(text);
}

test('reports a refused connection and retries with growing pauses until it succeeds', async () => {
  const port = await listen();
  await close();
  const listener = startWith({ port });
  await until('it is refused three times', () => listener.phases.filter((phase) => phase === 'waiting').length >= 3);
  const waits = listener.statuses.filter((status) => status.phase === 'waiting');
  expect(waits.slice(0, 3).map(({ text }) => text)).toEqual([
    `Cannot open 127.0.0.1:${port}: nothing is listening there. Trying again in 0.25 s.`,
    expect.stringMatching(/Trying again in 0\.5 s\.$/),
    expect.stringMatching(/Trying again in 1 s\.$/),
  ]);
  await listen(port);
  await until('it is open', () => sockets.size === 1 && listener.count('opened') === 1);
  send('d=1.750\n');
  await until('bytes arrive', () => listener.text === 'd=1.750\n');
});

test('limits the pauses', async () => {
  const port = await listen();
  await close();
  const listener = startWith({ port, longestPauseMs: 300 });
  await until('it is refused five times', () => listener.phases.filter((phase) => phase === 'waiting').length >= 5);
  expect(listener.statusText.match(/Trying again in [\d.]+ s/g)?.slice(0, 4)).toEqual([
    'Trying again in 0.25 s',
    'Trying again in 0.3 s',
    'Trying again in 0.3 s',
    'Trying again in 0.3 s',
  ]);
});

test.each([
  ['closes', (socket: Socket) => socket.end(), /the other side closed the connection/],
  ['resets', (socket: Socket) => socket.resetAndDestroy(), /the other side broke off the connection/],
] as const)('reconnects after a short pause when the other side %s the connection', async (_, end, text) => {
  const port = await listen();
  const listener = startWith({ port });
  for (const round of [1, 2, 3]) {
    await until('it is open', () => sockets.size === 1 && listener.count('opened') === round);
    send(`n=${round}\n`);
    await until('bytes arrive', () => listener.text.endsWith(`n=${round}\n`));
    for (const socket of sockets) end(socket);
    await until('it is closed', () => sockets.size === 0);
  }
  await until('it is open again', () => listener.count('opened') === 4);
  const waits = listener.statuses.filter((status) => status.phase === 'waiting');
  expect(waits).toHaveLength(3);
  for (const wait of waits) {
    expect(wait.text).toMatch(text);
    expect(wait.text).toBe(`${wait.fault} Trying again in 0.25 s.`);
  }
});

test('closes a silent connection and opens it again', async () => {
  const port = await listen();
  const listener = startWith({ port, silenceMs: 300 });
  await until('it is open', () => sockets.size === 1);
  send('d=1\n');
  await until('it is opened again', () => listener.count('opened') === 2);
  expect(listener.statusText).toMatch(/nothing more arrived for 0\.3 s, so it is opened again/);
});

test('stops waiting for a machine that does not answer', async () => {
  // Nothing answers in 192.0.2.0/24, which is reserved for documentation (RFC 5737).
  const listener = startWith({ host: '192.0.2.1', port: 9, connectTimeoutMs: 200 });
  await until('it stops waiting', () => listener.phases.includes('waiting'));
  expect(listener.statusText).toMatch(
    /no answer within 0\.2 s|it cannot be reached|nothing is listening|broke off the connection/,
  );
});

test('reports an unknown host name', async () => {
  const listener = startWith({ host: 'board.invalid', port: 9 });
  await until('it is not found', () => listener.phases.includes('waiting'));
  expect(listener.statusText).toMatch(/this name is not known|this name cannot be looked up now/);
});

test('does not take bytes that waited while the process was blocked for silence', async () => {
  const port = await listen();
  const listener = startWith({ port, silenceMs: 500 });
  await until('it is open', () => sockets.size === 1);
  send('d=1\n');
  await until('bytes arrive', () => listener.text !== '');
  const end = performance.now() + 1500;
  while (performance.now() < end);
  send('d=2\n');
  await until('more bytes arrive', () => listener.text.endsWith('d=2\n'));
  expect(listener.count('opened')).toBe(1);
});
