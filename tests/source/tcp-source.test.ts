import { createServer, type Server, type Socket } from 'node:net';
import { afterEach, expect, test } from 'vitest';
import type { Source } from '../../server/source/source.ts';
import { type TcpSourceOptions, tcpSource } from '../../server/source/tcp-source.ts';
import { Hearer, until } from './hearer.ts';

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
  if (address === null || typeof address === 'string') throw new Error('the server has no port');
  return address.port;
}

async function close(): Promise<void> {
  const closing = server;
  server = null;
  for (const socket of sockets) socket.destroy();
  if (closing !== null) await new Promise((resolve) => closing.close(resolve));
}

function hear(options: Partial<TcpSourceOptions> & { port: number }): Hearer {
  const hearer = new Hearer();
  source = tcpSource({ host: '127.0.0.1', ...options }, () => 0);
  source.start(hearer);
  return hearer;
}

function send(text: string): void {
  for (const socket of sockets) socket.write(text);
}

test('a refused connection is said in words, tried again with growing pauses, and picked up when it is back', async () => {
  const port = await listen();
  await close();
  const hearer = hear({ port });
  await until('it was refused three times', () => hearer.phases.filter((phase) => phase === 'waiting').length >= 3);
  const [first, second, third] = hearer.statuses.filter((status) => status.phase === 'waiting');
  expect(first!.text).toBe(
    `Cannot open 127.0.0.1:${port}: the connection was refused; does the program on the other side listen on this port? Trying again in 0.25 s.`,
  );
  expect(second!.text).toMatch(/Trying again in 0\.5 s\.$/);
  expect(third!.text).toMatch(/Trying again in 1 s\.$/);
  await listen(port);
  await until('it is open', () => sockets.size === 1 && hearer.count('opened') === 1);
  send('d=1.750\n');
  await until('bytes came', () => hearer.text === 'd=1.750\n');
});

test('pauses grow no longer than five seconds', async () => {
  const port = await listen();
  await close();
  const hearer = hear({ port, longestPauseMs: 300 });
  await until('it was refused five times', () => hearer.phases.filter((phase) => phase === 'waiting').length >= 5);
  expect(hearer.statusText.match(/Trying again in [\d.]+ s/g)!.slice(0, 4)).toEqual([
    'Trying again in 0.25 s',
    'Trying again in 0.3 s',
    'Trying again in 0.3 s',
    'Trying again in 0.3 s',
  ]);
});

test.each([
  ['closes', (socket: Socket) => socket.end(), /the other side closed the connection/],
  ['breaks off', (socket: Socket) => socket.resetAndDestroy(), /the other side broke the connection off/],
] as const)('a connection that the other side %s is made again, with a short pause', async (_, act, text) => {
  const port = await listen();
  const hearer = hear({ port });
  for (const round of [1, 2, 3]) {
    await until('it is open', () => sockets.size === 1 && hearer.count('opened') === round);
    send(`n=${round}\n`);
    await until('bytes came', () => hearer.text.endsWith(`n=${round}\n`));
    for (const socket of sockets) act(socket);
    await until('it is open no more', () => sockets.size === 0);
  }
  await until('it is open again', () => hearer.count('opened') === 4);
  const waits = hearer.statuses.filter((status) => status.phase === 'waiting');
  expect(waits).toHaveLength(3);
  for (const wait of waits) {
    expect(wait.text).toMatch(text);
    expect(wait.text).toMatch(/Trying again in 0\.25 s\.$/);
  }
});

test('a connection that falls silent is closed and made again', async () => {
  const port = await listen();
  const hearer = hear({ port, silenceMs: 300 });
  await until('it is open', () => sockets.size === 1);
  send('d=1\n');
  await until('it is opened again', () => hearer.count('opened') === 2);
  expect(hearer.statusText).toMatch(/nothing more came for 0\.3 s, so it is opened again/);
});

test('a machine that does not answer is given up after a while', async () => {
  // 192.0.2.0/24 is set aside for documentation (RFC 5737): nothing answers there.
  const hearer = hear({ host: '192.0.2.1', port: 9, connectTimeoutMs: 200 });
  await until('it was given up', () => hearer.phases.includes('waiting'));
  expect(hearer.statusText).toMatch(
    /no answer within 0\.2 s|there is no way to that machine|was refused|broke the connection off/,
  );
});

test('a name that nobody has is said in words', async () => {
  const hearer = hear({ host: 'board.invalid', port: 9 });
  await until('it was not found', () => hearer.phases.includes('waiting'));
  expect(hearer.statusText).toMatch(/no machine of that name was found/);
});

test('a process that was held up does not take the backlog for silence', async () => {
  const port = await listen();
  const hearer = hear({ port, silenceMs: 500 });
  await until('it is open', () => sockets.size === 1);
  send('d=1\n');
  await until('bytes came', () => hearer.text !== '');
  const end = performance.now() + 1500;
  while (performance.now() < end);
  send('d=2\n');
  await until('more bytes came', () => hearer.text.endsWith('d=2\n'));
  expect(hearer.count('opened')).toBe(1);
});
