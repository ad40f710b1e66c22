/** What one service shows of others, and of what is no Strandward, another version, or hangs. */
import { once } from 'node:events';
import { createServer } from 'node:http';
import { type AddressInfo, createServer as createTcpServer, type Socket } from 'node:net';
import { afterAll, afterEach, beforeAll, expect, it } from 'vitest';
import WebSocket, { WebSocketServer } from 'ws';
import type { JournalPageView } from '../../server/api/contract/alarm-journal.ts';
import type { LinesFrame, SeenLineView } from '../../server/api/contract/lines.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { EffectsView } from '../../server/api/contract/nights.ts';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { StockFitView } from '../../server/api/contract/stock.ts';
import { answerReader, frameReader } from '../../server/api/line-reader.ts';
import { LineFeed } from '../../server/front/line-feed.ts';
import { readOtherLines } from '../../server/front/other-line.ts';
import { OtherLines, type OtherLinesParts } from '../../server/front/other-lines.ts';
import { MUTE, startTestService, type TestService } from '../api/test-service.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { until } from '../service/running-service.ts';

let front: TestService;
let other: TestService;
const sockets = new Set<Socket>();
const ends: (() => void)[] = [];
/** What a line sends, to be changed by the stand-ins for strangers. */
let state: { serverTimeMs: number; lineName: string };

beforeAll(async () => {
  front = await startTestService(MUTE, { lineName: 'Front' });
  other = await startTestService('simulator:evening?pace=60', { lineName: 'Garage' });
  other.monitor.start();
  state = await other.get('/api/state');
});
afterAll(async () => {
  for (const end of ends) end();
  for (const socket of sockets) socket.destroy();
  await front.stop();
  await other.stop();
});

afterEach(async () => {
  for (const { id } of await front.get<{ id: number }[]>('/api/lines')) await front.send('DELETE', `/api/lines/${id}`);
});

const tokenFor = async (right: string) => {
  const { body } = await other.send('POST', '/api/tokens', { name: `front ${right}`, right });
  return (body as { token: string }).token;
};
const add = async (address: string, watchToken = 'token') => {
  const { status, body } = await front.send('POST', '/api/lines', { address, watchToken });
  expect(status).toBe(201);
  return (body as { id: number }).id;
};
const shown = async () => (await front.get<LinesFrame>('/live/lines')).lines;
const line = (id: number, wanted: (seen: SeenLineView) => boolean, what: string) =>
  until(
    async () => (await shown()).find((one) => one.id === id),
    (seen) => seen !== undefined && wanted(seen),
    what,
  ) as Promise<SeenLineView>;

/** Something that listens; gives its address. */
async function listening(server: {
  listen(port: number, host: string): unknown;
  close(): unknown;
  address(): unknown;
}) {
  server.listen(0, '127.0.0.1');
  await once(server as never, 'listening');
  ends.push(() => server.close());
  return `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
}

/** Speaks the live feed, and sends this. */
async function speaker(frame: () => string): Promise<string> {
  const server = createServer();
  server.on('connection', (socket) => sockets.add(socket));
  new WebSocketServer({ server }).on('connection', (socket) => socket.send(frame()));
  return listening(server);
}

it('shows another line with its strand, passes an acknowledgement on, and is as loud as its own page when it is gone', async () => {
  const id = await add(other.address, await tokenFor('watch'));
  const seen = await line(id, ({ trace }) => trace.max.some((mm) => mm !== null && mm > 1), 'the strand');
  expect(seen).toMatchObject({ name: 'Garage', connection: 'open', notes: [] });
  await until(
    async () => [(await line(id, () => true, '')).sentence, (await other.get<LiveState>('/api/state')).sentence],
    ([here, onItsPage]) => here === onItsPage,
    'the sentence of its own page',
  );

  const alarmed = await line(id, ({ alarms }) => alarms.length > 0, 'an alarm of the other line');
  const path = `/api/lines/${id}/alarms/${alarmed.alarms[0]!.id}/acknowledge`;
  const refused = await front.send('POST', path);
  expect(refused).toMatchObject({ status: 502, body: { code: 'line-failed' } });
  const changed = { address: other.address, actToken: await tokenFor('act') };
  const { body } = await front.send('PUT', `/api/lines/${id}`, changed);
  expect(JSON.stringify(body)).not.toContain(changed.actToken);
  expect(JSON.stringify(await front.get('/api/lines'))).not.toContain(changed.actToken);
  const answered = await front.send('POST', path, undefined, { 'strandward-by': 'Kim' });
  expect(answered.status).toBe(204);
  // It may be over by now, and then it is gone.
  const { entries } = await other.get<JournalPageView>('/api/alarm-journal/entries?step=acknowledged');
  expect(entries).toContainEqual(
    expect.objectContaining({ step: 'acknowledged', by: expect.stringMatching(/^Kim, on front act/) }),
  );

  const elsewhere = await front.send('PUT', `/api/lines/${id}`, { address: 'http://192.0.2.1:8750' });
  expect(elsewhere).toMatchObject({ status: 400, body: { pointer: '/watchToken' } });

  const tokens = await other.get<{ tokens: { id: number }[] }>('/api/devices');
  for (const token of tokens.tokens) await other.send('DELETE', `/api/tokens/${token.id}`);
  const lost = await line(id, ({ sentence }) => /does not know the token/.test(sentence), 'the loss');
  expect(lost).toMatchObject({ severity: 'danger', connection: 'lost', name: 'Garage' });
});

it.each([
  ['a page', (address: string) => address, /is not Strandward/],
  ['nothing', () => 'http://127.0.0.1:9', /Nothing answers at 127.0.0.1:9/],
])('says of %s that it is no line', async (_what, addressOf, why) => {
  const page = await listening(createServer((_request, reply) => reply.end('<html>')));
  const id = await add(addressOf(page));
  const { sentence, severity } = await line(id, ({ connection }) => connection === 'lost', 'the refusal');
  expect(sentence).toMatch(why);
  expect(severity).toBe('danger');
});

it('says of another version and of a flood what is wrong', async () => {
  const versions = await Promise.all([
    speaker(() => JSON.stringify({ kind: 'state', state: { ...state, link: 'new' } })).then(add),
    speaker(() => 'x'.repeat(600_000)).then(add),
  ]);
  const [version, flood] = versions as [number, number];
  expect((await line(version, ({ connection }) => connection === 'lost', 'refused')).sentence).toMatch(
    /runs another version of Strandward/,
  );
  expect((await line(flood, ({ connection }) => connection === 'lost', 'refused')).sentence).toMatch(
    /far more data than/,
  );
});

it('names a clock that differs by an hour, and two lines with one name', async () => {
  const hour = { ...state, serverTimeMs: Date.now() + 3_600_000, lineName: 'Front' };
  const id = await add(await speaker(() => JSON.stringify({ kind: 'state', state: hour })));
  const { notes } = await line(id, ({ connection }) => connection === 'open', 'connected');
  expect(notes.join(' ')).toMatch(/clock is 60 min ahead.*also called “Front”/);
  expect((await shown())[0]!.notes.join(' ')).toMatch(/also called “Front”/);
});

it.each(['ftp://a', 'http://a/page', 'garage', 'http://u:p@a'])('refuses the address %s', async (address) => {
  const { status, body } = await front.send('POST', '/api/lines', { address, watchToken: 'token' });
  expect([status, (body as { pointer: string }).pointer]).toEqual([400, '/address']);
});

it.skipIf(!IS_LONG_CHECK)(
  'says of a line that accepts the connection and then hangs that it does not answer',
  async () => {
    const address = await listening(createTcpServer((socket) => sockets.add(socket)));
    const id = await add(address);
    const { sentence } = await line(id, ({ connection }) => connection === 'lost', 'given up');
    expect(sentence).toMatch(/does not answer in time/);
  },
);

it('tries again after a line broke the connection', async () => {
  const tcp = createTcpServer((socket) => sockets.add(socket));
  let tries = 0;
  tcp.on('connection', () => {
    tries += 1;
  });
  const address = await listening(tcp);
  let nowMs = 0;
  const feed = new LineFeed(
    { id: 1, address, watchToken: 'token', actToken: '' },
    { nowMs: () => nowMs, readFrame: frameReader(), authorities: () => undefined, changed: () => {} },
  );
  feed.start();
  await until(() => tries, Boolean, 'a connection');
  for (const socket of sockets) socket.destroy();
  await until(
    () => feed.phase,
    (phase) => phase === 'lost',
    'lost',
  );
  expect(feed.why).toMatch(/broke the connection|failed/);
  nowMs = 90_000;
  expect(feed.silentForMs).toBe(90_000);
  await until(
    () => tries,
    (count) => count >= 2,
    'another try',
  );
  feed.stop();
});

it('shows the shelf of another line as that line lists it, and asks it which strand fits', async () => {
  const id = await add(other.address, await tokenFor('watch'));
  expect(await front.get(`/api/lines/${id}/stock?newest=5`)).toEqual(await other.get('/api/stock?newest=5'));
  const question = 'stock/fit?grams=20';
  expect(await front.get(`/api/lines/${id}/${question}`)).toEqual(await other.get(`/api/${question}`));
  expect(await front.send('GET', `/api/lines/${id}/stock/fit`)).toMatchObject({ status: 400 });
});

it.each([
  ['answers something else', 200, '{"items":{}}', /another version of Strandward/],
  ['answers far too much', 200, `"${'x'.repeat(2_100_000)}"`, /far more data than/],
  ['does not know the token', 401, '', /refuses the token/],
  ['fails', 500, '', /answered with status 500/],
])('says of a line that %s what is wrong with its shelf', async (_what, status, text, why) => {
  const id = await add(await listening(createServer((_request, reply) => reply.writeHead(status).end(text))));
  const refused = await front.send('GET', `/api/lines/${id}/stock`);
  expect(refused).toMatchObject({ status: 502, body: { code: 'line-failed', title: expect.stringMatching(why) } });
});

it('copies people and printers to another line, but no secrets, and nothing twice', async () => {
  const channel = async (name: string, settings: object) =>
    ((await front.send('POST', '/api/channels', { name, settings })).body as { id: number }).id;
  const mail = { kind: 'email', host: '127.0.0.1', port: 9, security: 'none', user: '', password: '', certificate: '' };
  const plain = await channel('Mail', { ...mail, from: 'line@example.org', to: 'kim@example.org' });
  const secret = await channel('Chat', { kind: 'webhook', url: 'http://127.0.0.1:9/secret', secret: '', template: '' });
  const kim = { name: 'Kim', channelIds: [plain, secret], leastPriority: 'medium', quiet: null, round: 2 };
  await front.send('POST', '/api/people', kim);
  const printer = { name: 'Heron', hotendLimitMm: 1.95, smallestFeedableMm: 1.55, toleranceMm: 0.05, note: 'blue' };
  await front.send('POST', '/api/printers', printer);
  const id = await add(other.address, await tokenFor('watch'));
  const copy = (manageToken: string) => front.send('POST', `/api/lines/${id}/copy`, { manageToken });
  expect(await copy(await tokenFor('act'))).toMatchObject({ status: 502, body: { code: 'line-failed' } });
  const token = await tokenFor('manage');
  const { body } = await copy(token);
  expect(body).toMatchObject({
    people: 1,
    printers: 1,
    material: false,
    leftOut: [expect.stringMatching(/^Chat has/)],
  });
  const there = await other.get<PeopleView>('/api/people');
  expect(there.channels.map(({ name }) => name)).toEqual(['Mail']);
  const { channelIds: _, ...settings } = kim;
  expect(there.contacts).toMatchObject([{ ...settings, channelIds: [there.channels[0]!.id] }]);
  expect(JSON.stringify(there)).not.toContain('9/secret');
  expect(await other.get<object[]>('/api/printers')).toContainEqual(expect.objectContaining(printer));
  expect((await copy(token)).body).toMatchObject({ people: 0, printers: 0 });
});

it('compares the nights of all lines, and says which line is missing and why', async () => {
  const night = { blobs: 4, measuredMm: 100_000, keptShare: 0.9, diameterSdMm: 0.012 };
  const nights = Array.from({ length: 12 }, (_, i) => ({ ...night, values: { dryingH: 4 * (i % 2) } }));
  await Promise.all(
    [
      createServer((_request, reply) => reply.end(JSON.stringify(nights))),
      createServer((_request, reply) => reply.writeHead(401).end()),
    ].map(async (server) => add(await listening(server))),
  );
  const all = await front.get<EffectsView>('/api/effects?lines=all');
  expect(all).toMatchObject({ whyUnknown: null, nights: 12 });
  expect(all.notAnswered).toEqual([expect.stringMatching(/^127\.0\.0\.1:\d+: .* refuses the token\.$/)]);
  expect(await front.get('/api/effects')).toMatchObject({ nights: 0, notAnswered: [] });
  expect(await front.get('/api/nights')).toEqual([]);
});

it('cuts what a line writes on its shelf to what a page can show', () => {
  const read = answerReader(StockFitView);
  const { sentence } = read(JSON.stringify({ fits: [], others: [], sentence: 'x'.repeat(9000), newer: 1 }));
  expect(sentence).toBe(`${'x'.repeat(499)}…`);
});

it('sends all lines to a page', async () => {
  const socket = new WebSocket(`${front.address.replace('http', 'ws')}/live/lines`);
  const [frame] = (await once(socket, 'message')) as [Buffer];
  socket.close();
  expect(JSON.parse(frame.toString())).toMatchObject({ kind: 'lines', lines: [{ id: 0, name: 'Front', address: '' }] });
});

it('never gives the number of a removed line to another, also after a start, and keeps no line that cannot be saved', () => {
  let saved: string | null = null;
  let isFull = false;
  const parts: OtherLinesParts = {
    load: () => (saved === null ? null : readOtherLines(saved)),
    save(json) {
      if (isFull) throw new Error('The disk is full.');
      saved = json;
    },
    readFrame: frameReader(),
    authority: () => null,
    recordAction: () => {},
  };
  const start = () => {
    const lines = new OtherLines(parts);
    lines.start();
    ends.push(() => lines.stop());
    return lines;
  };
  const idOf = (lines: OtherLines, port: number) =>
    lines.add({ address: `http://127.0.0.1:${port}`, watchToken: 'token' }, 'Ada').line.id;
  const first = start();
  expect([1, 2].map((port) => idOf(first, port))).toEqual([1, 2]);
  first.remove(2, 'Ada');
  const second = start();
  expect(idOf(second, 3)).toBe(3);
  isFull = true;
  expect(() => idOf(second, 4)).toThrow('The disk is full.');
  expect(() => second.remove(1, 'Ada')).toThrow('The disk is full.');
  expect(second.feeds().map(({ line }) => line.id)).toEqual([1, 3]);
  isFull = false;
  expect(idOf(second, 4)).toBe(4);

  // As an older version kept them.
  saved = '[{"id":7,"address":"http://127.0.0.1:9","watchToken":"token","actToken":""}]';
  expect(idOf(start(), 10)).toBe(8);
});
