/** The live feed of many pages, and of one that is too slow. */
import { EventEmitter } from 'node:events';
import { readFileSync } from 'node:fs';
import { createServer, type Server } from 'node:http';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { WebSocket, WebSocketServer } from 'ws';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import { LiveFeed } from '../../server/api/live-feed.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { type LiveListener, listenLive } from './live-listener.ts';
import { madeUpState } from './made-up-state.ts';
import { type RunningService, startService, until } from './running-service.ts';
import { ScriptedBoard } from './scripted-board.ts';

// Starting a process is slow on a busy machine; required speeds are measured separately.
vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

const CLIENTS = 20;
const rethrow = (thrown: unknown) => {
  throw thrown;
};
const SLOW_CLIENTS = 10;

let board: ScriptedBoard;
let service: RunningService;

beforeAll(async () => {
  board = await new ScriptedBoard().start();
  service = await startService({ source: board.source, args: ['--log', 'warn'] });
  const state = () => service.get<LiveState>('/api/state');
  await until(state, (s) => s.now.diameterMm !== null && s.link.phase === 'open', 'readings');
  await service.send('POST', '/api/stage', { stage: 'winding' });
});
afterAll(async () => {
  await service?.remove();
  await board?.stop();
});

const residentMb = () =>
  Number(/VmRSS:\s+(\d+) kB/.exec(readFileSync(`/proc/${service.process.pid}/status`, 'latin1'))?.[1]) / 1024;
const listeners = (count: number) => Promise.all(Array.from({ length: count }, () => listenLive(service.address)));
const pause = (ms: number) => new Promise((resolve) => setTimeout(resolve, ms));

describe('twenty pages', () => {
  test('each gets every reading in order, and hears of a blob within a second', async () => {
    const pages = await listeners(CLIENTS);
    await pause(1000);
    const injectedMs = performance.now();
    board.stretch(30, 2.1);
    const heard = await Promise.all(
      pages.map((page) => page.state((s) => s.alarms.some((one) => one.type === 'blob'), 'the blob')),
    );
    for (const state of heard) expect(state.atMs - injectedMs).toBeLessThan(1000);
    await pause(500);
    for (const page of pages) {
      const times = page.frames.flatMap(({ frame }) => (frame.kind === 'readings' ? frame.timeMs : []));
      expect(times.length).toBeGreaterThan(40);
      expect(times.every((time, i) => i === 0 || time > times[i - 1]!)).toBe(true);
      expect(page.frames.some(({ frame }) => frame.kind === 'skipped')).toBe(false);
    }
    // All received the same readings.
    const last = (page: LiveListener) =>
      page.frames.flatMap(({ frame }) => (frame.kind === 'readings' ? frame.diameterMm : []));
    const shortest = Math.min(...pages.map((page) => last(page).length)) - 10;
    const tails = new Set(pages.map((page) => Math.max(...last(page).map((d) => d ?? 0))));
    expect(shortest).toBeGreaterThan(30);
    expect([...tails]).toEqual([Math.max(...last(pages[0]!).map((d) => d ?? 0))]);
    for (const page of pages) page.close();
  });
});

describe('pages that stop reading', () => {
  test.skipIf(!IS_LONG_CHECK)('delay no one and cost the service no memory', async () => {
    const good = await listenLive(service.address);
    const slow = await listeners(SLOW_CLIENTS);
    for (const page of slow) page.stall();
    const beforeMb = residentMb();
    for (let i = 0; i < 200; i++) {
      await service.send('POST', '/api/stage', { stage: i % 2 === 0 ? null : 'winding' });
    }
    // The data queued for ten pages is bounded; the rest is garbage not collected yet.
    expect(residentMb() - beforeMb).toBeLessThan(60);

    good.forget();
    await pause(1000);
    const arrivals = good.frames.filter(({ frame }) => frame.kind === 'readings').map(({ atMs }) => atMs);
    expect(arrivals.length).toBeGreaterThan(15);
    const injectedMs = performance.now();
    board.stretch(40, 2.2);
    const { atMs } = await good.state((s) => s.alarms.some((one) => one.sentence.includes('2.2')), 'the new blob');
    expect(atMs - injectedMs).toBeLessThan(1000);
    for (const page of [good, ...slow]) page.close();
  });
});

describe('the feed itself, over real sockets that the kernel has filled', () => {
  /** Frames of which a thousand or so fill every buffer of the kernel, and then the client's allowance. */
  const LARGE = madeUpState('x'.repeat(5_000));
  const ALLOWED_BYTES = 64 * 1024;
  let httpServer: Server;
  let sockets: WebSocketServer;
  let feed: LiveFeed;
  const accepted: WebSocket[] = [];

  beforeAll(async () => {
    feed = new LiveFeed({ state: () => LARGE, runId: () => null, failed: rethrow });
    httpServer = createServer();
    sockets = new WebSocketServer({ server: httpServer });
    sockets.on('connection', (socket) => {
      accepted.push(socket);
      feed.add(socket);
    });
    await new Promise<void>((resolve) => httpServer.listen(0, '127.0.0.1', resolve));
  });
  afterAll(async () => {
    feed.stop();
    sockets.close();
    await new Promise((resolve) => httpServer.close(resolve));
  });

  test('what waits for a page is bounded, and when it reads again it gets one message about what it missed', async () => {
    const { port } = httpServer.address() as { port: number };
    const page = await listenLive(`http://127.0.0.1:${port}`);
    await page.frame((one) => one.kind === 'state', 'the first state');
    page.stall();
    const server = accepted[0]!;
    let mostBytes = 0;
    let sent = 0;
    // Wait until the client has taken nothing for so long that its allowance must be full.
    for (let fullFor = 0; fullFor < 50; sent++) {
      const before = server.bufferedAmount;
      feed.changed();
      await new Promise((resolve) => setImmediate(resolve));
      await new Promise((resolve) => setImmediate(resolve));
      mostBytes = Math.max(mostBytes, server.bufferedAmount);
      fullFor = before > 0 && server.bufferedAmount <= before ? fullFor + 1 : 0;
      expect(sent, 'the buffers of the kernel never fill').toBeLessThan(5000);
    }
    expect(mostBytes).toBeGreaterThan(ALLOWED_BYTES / 2);
    expect(mostBytes).toBeLessThanOrEqual(ALLOWED_BYTES + 1000);

    // Frames continue to arrive while it catches up.
    page.resume();
    for (let after = 0; after < 5; sent++) {
      feed.changed();
      await new Promise((resolve) => setImmediate(resolve));
      await new Promise((resolve) => setImmediate(resolve));
      if (server.bufferedAmount === 0) after++;
    }
    const { frame } = await page.frame((one) => one.kind === 'skipped', 'that frames were left out');
    if (frame.kind !== 'skipped') throw new Error('unreachable');
    await pause(200);
    const states = page.frames.filter(({ frame: one }) => one.kind === 'state').length;
    // Every frame arrived or was counted as skipped.
    expect(states + frame.frames).toBe(1 + sent);
    expect(page.frames.filter(({ frame: one }) => one.kind === 'skipped')).toHaveLength(1);
    page.close();
  });
});

test('what a client sends wrongly closes its connection, and is no fault in the log', async () => {
  const client = new WebSocket(`${service.address.replace('http', 'ws')}/live`);
  await new Promise((resolve) => client.once('open', resolve));
  client.on('error', () => {});
  client.send('x'.repeat(5000));
  // RFC 6455, 7.4.1: a message too big to process.
  expect(await new Promise((resolve) => client.once('close', resolve))).toBe(1009);
  await pause(200);
  expect(service.output()).not.toMatch(/payload size/);
});

test('a page that reads slowly gets that message once, when it has caught up, not after every frame that fits', async () => {
  // A socket whose unsent bytes the test decides: a kernel does not trickle on demand.
  const socket = Object.assign(new EventEmitter(), {
    OPEN: 1,
    readyState: 1,
    bufferedAmount: 0,
    sent: [] as string[],
    send(frame: string | Buffer) {
      this.sent.push(frame.toString());
    },
    terminate() {},
    ping() {},
  });
  const feed = new LiveFeed({ state: () => madeUpState('x'.repeat(6_000)), runId: () => null, failed: rethrow });
  feed.add(socket as unknown as WebSocket);
  const frameAt = async (unsentBytes: number) => {
    socket.bufferedAmount = unsentBytes;
    socket.sent = [];
    feed.changed();
    await new Promise((resolve) => setImmediate(resolve));
    await new Promise((resolve) => setImmediate(resolve));
    return socket.sent.map((text) => (JSON.parse(text) as { kind: string }).kind);
  };
  expect(await frameAt(50_000)).toEqual(['state']);
  expect(await frameAt(65_500)).toEqual([]);
  for (const trickle of [62_000, 60_000, 37_000, 20_000]) expect(await frameAt(trickle), `${trickle}`).toEqual([]);
  expect(await frameAt(5_000)).toEqual(['skipped', 'state']);
  expect(await frameAt(50_000)).toEqual(['state']);
  feed.stop();
});

test('all pages share the bytes of a frame, so that many slow ones take no more memory than one', async () => {
  const sent: unknown[] = [];
  const page = () =>
    Object.assign(new EventEmitter(), {
      OPEN: 1,
      readyState: 1,
      bufferedAmount: 0,
      send: (frame: unknown) => sent.push(frame),
      terminate() {},
    }) as unknown as WebSocket;
  const feed = new LiveFeed({ state: () => madeUpState('Line'), runId: () => null, failed: rethrow });
  for (let i = 0; i < 3; i++) feed.add(page());
  sent.length = 0;
  feed.changed();
  await expect.poll(() => sent.length).toBe(3);
  expect(sent[0]).toBeInstanceOf(Buffer);
  expect(sent[1]).toBe(sent[0]);
  expect(sent[2]).toBe(sent[0]);
  feed.stop();
});

test('a state that cannot be written is reported once and stops nothing', async () => {
  const reported: unknown[] = [];
  const sent: string[] = [];
  let state = { ...madeUpState('Line'), serverTimeMs: Number.NaN };
  const socket = Object.assign(new EventEmitter(), {
    OPEN: 1,
    readyState: 1,
    bufferedAmount: 0,
    send: (text: string) => sent.push(text),
    terminate() {},
    ping() {},
  });
  const feed = new LiveFeed({ state: () => state, runId: () => null, failed: (thrown) => reported.push(thrown) });
  feed.add(socket as unknown as WebSocket);
  for (let i = 0; i < 3; i++) {
    feed.changed();
    await new Promise((resolve) => setImmediate(resolve));
    await new Promise((resolve) => setImmediate(resolve));
  }
  expect(reported.map(String)).toEqual(['TypeError: StateFrame.state.serverTimeMs must be a number, but is NaN.']);
  state = madeUpState('Line');
  feed.changed();
  await expect.poll(() => sent.length).toBe(1);
  feed.stop();
});
