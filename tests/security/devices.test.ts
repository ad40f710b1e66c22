/** Pairing, sessions, tokens, and what removes them. */
import { createECDH } from 'node:crypto';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import WebSocket from 'ws';
import type { DevicesView } from '../../server/api/contract/devices.ts';
import type { PeopleView } from '../../server/api/contract/people.ts';
import type { Credential } from '../../server/entities/device.ts';
import { IdentityService } from '../../server/identity/identity-service.ts';
import type { IdentityStore, StoredCredential } from '../../server/identity/identity-store.ts';
import { startTestService, type TestService } from '../api/test-service.ts';
import { askAs, codeFor, hostOf, pageOf, pairedAs } from './other-device.ts';

let service: TestService;
beforeAll(async () => {
  service = await startTestService('simulator:steady');
});
afterAll(() => service.stop());

const TEN_MINUTES = 600_000;
const devices = () => service.get<DevicesView>('/api/devices');
const idOf = async (name: string) => {
  const { devices: paired, tokens } = await devices();
  return [...paired, ...tokens].find((one) => one.name === name)?.id;
};

const identityOn = (store: IdentityStore, steadyClock = () => 0) =>
  new IdentityService({
    store,
    clock: () => 1_800_000_000_000 + steadyClock(),
    steadyClock,
    accessKey: null,
    record: () => {},
    warn: () => {},
  });

/** Opens the live feed as another device; resolves with the status of the refusal, or the socket. */
const openFeed = (headers: Readonly<Record<string, string>>) =>
  new Promise<WebSocket | number>((resolve) => {
    const socket = new WebSocket(`${service.address.replace(/^http/, 'ws')}/live`, {
      headers: { host: hostOf(service), ...headers },
    });
    socket.on('error', () => {});
    socket.once('open', () => resolve(socket));
    socket.once('unexpected-response', (_request, reply) => resolve(reply.statusCode ?? 0));
  });

describe('the cookie of a session', () => {
  it('is out of reach of scripts and other sites, and lasts a year', async () => {
    const cookie = await pairedAs(service, 'watch', 'cookie phone');
    const { port } = new URL(service.address);
    expect(cookie).toMatch(
      new RegExp(`^strandward${port}=[\\w-]{43}; Path=/; Max-Age=31536000; HttpOnly; SameSite=Strict$`),
    );
  });

  it('is sent over HTTPS only, where the page came over HTTPS', async () => {
    const code = await codeFor(service, 'watch');
    const headers = { origin: `https://${hostOf(service)}` };
    const reply = await askAs(service, 'POST', '/api/devices', headers, { name: 'secure phone', code });
    expect(reply.cookie).toMatch(/^__Host-strandward\d+=[\w-]{43}; Path=\/; .*SameSite=Strict; Secure$/);
    const cookie = reply.cookie?.split(';')[0] ?? '';
    expect((await askAs(service, 'GET', '/api/state', { cookie })).status).toBe(200);
  });

  it('is renewed by use', async () => {
    const cookie = await pairedAs(service, 'watch', 'renewed phone');
    const reply = await askAs(service, 'GET', '/api/me', pageOf(service, cookie));
    expect(reply.cookie).toBe(cookie);
    expect((await devices()).devices.find(({ name }) => name === 'renewed phone')?.lastSeenMs).toBeGreaterThan(0);
  });

  it('is renewed by use also after the clock of the machine was set back', () => {
    let nowMs = 1_800_000_000_000;
    const stored: number[] = [];
    const store = {
      addCredential: (one: Omit<StoredCredential, 'id'>) => ({ ...one, id: 1 }),
      credentialSeen: (_: number, atMs: number) => void stored.push(atMs),
    } as unknown as IdentityStore;
    const identity = identityOn(store, () => nowMs - 1_800_000_000_000);
    const { credential } = identity.addToken('logger', 'watch', 'Ada');
    expect(identity.seen(credential)).toBe(true);
    nowMs -= 3_600_000;
    expect(identity.seen(credential)).toBe(true);
    expect(stored).toStrictEqual([1_800_000_000_000, nowMs]);
  });

  it('is worth nothing when it is changed', async () => {
    const cookie = await pairedAs(service, 'watch', 'copied phone');
    const [name, secret = ''] = (cookie.split(';')[0] ?? '').split('=');
    const other = `${secret[0] === 'A' ? 'B' : 'A'}${secret.slice(1)}`;
    expect((await askAs(service, 'GET', '/api/state', { cookie: `${name}=${other}` })).status).toBe(401);
  });

  it('is no token, and a token is no cookie', async () => {
    // Another service, because wrong secrets make this address wait.
    const other = await startTestService('simulator:steady');
    try {
      const [name, secret] = ((await pairedAs(other, 'watch', 'phone')).split(';')[0] ?? '').split('=');
      const added = await other.send('POST', '/api/tokens', { name: 'program', right: 'watch' });
      const { token } = added.body as { token: string };
      const asToken = await askAs(other, 'GET', '/api/state', { authorization: `Bearer ${secret}` });
      const asCookie = await askAs(other, 'GET', '/api/state', { cookie: `${name}=${token}` });
      expect([asToken.status, asCookie.status]).toEqual([401, 401]);
    } finally {
      await other.stop();
    }
  });

  it('stores only a digest of its secret', async () => {
    const secret = (await pairedAs(service, 'watch', 'stored phone')).replace(/^.*?=([^;]*).*/, '$1');
    const stored = service.store.identity.credentials().find(({ name }) => name === 'stored phone');
    expect(stored?.digest).toHaveLength(32);
    expect(JSON.stringify(stored)).not.toContain(secret);
    expect(JSON.stringify(await devices())).not.toMatch(/digest/);
  });
});

describe('a page that is not the own one', () => {
  let page: Readonly<Record<string, string>>;
  beforeAll(async () => {
    page = pageOf(service, await pairedAs(service, 'manage', 'desk'));
  });
  const stage = { stage: 'stopped' };

  it.each([
    ['another origin', { origin: 'http://elsewhere.example' }],
    ['no origin', { origin: undefined }],
    ['an unknown origin', { origin: 'null' }],
    ['the same name at another port', { origin: 'http://line.example:1' }],
    ['another site by Sec-Fetch-Site', { 'sec-fetch-site': 'cross-site' }],
    ['another origin of the site by Sec-Fetch-Site', { 'sec-fetch-site': 'same-site' }],
  ])('is refused: %s', async (_what, change) => {
    const headers = Object.fromEntries(Object.entries({ ...page, ...change }).filter(([, value]) => value)) as Record<
      string,
      string
    >;
    const reply = await askAs(service, 'POST', '/api/stage', headers, stage);
    expect(reply).toMatchObject({ status: 403, body: { code: 'access-denied' } });
    if (!('sec-fetch-site' in change)) expect(await openFeed(headers)).toBe(403);
  });

  it('is refused on this machine too, which needs no cookie', async () => {
    const reply = await service.send('POST', '/api/stage', stage, { 'sec-fetch-site': 'cross-site' });
    expect(reply).toMatchObject({ status: 403, body: { code: 'access-denied' } });
  });

  it('differs from the own one, which is served', async () => {
    const own = { ...page, 'sec-fetch-site': 'same-origin' };
    expect((await askAs(service, 'POST', '/api/stage', own, { stage: null })).status).toBe(200);
    const opened = await openFeed(page);
    expect(opened).toBeInstanceOf(WebSocket);
    (opened as WebSocket).terminate();
  });
});

describe('removing', () => {
  it('a device closes its live feed at once and refuses it from then on', async () => {
    const page = pageOf(service, await pairedAs(service, 'act', 'lost phone'));
    const kept = pageOf(service, await pairedAs(service, 'act', 'kept phone'));
    const feed = (await openFeed(page)) as WebSocket;
    const other = (await openFeed(kept)) as WebSocket;
    const closed = new Promise<number>((resolve) => feed.once('close', resolve));
    expect((await service.send('DELETE', `/api/devices/${await idOf('lost phone')}`)).status).toBe(204);
    expect(await closed).toBe(1008);
    expect(await askAs(service, 'GET', '/api/state', page)).toMatchObject({ status: 401 });
    expect(await openFeed(page)).toBe(401);
    expect(other.readyState).toBe(WebSocket.OPEN);
    other.terminate();
    expect((await service.send('DELETE', '/api/devices/99999')).body).toMatchObject({ code: 'unknown-device' });
  });

  it('a device lasts over a restart', async () => {
    const kept = await pairedAs(service, 'act', 'phone that stays');
    const removed = await pairedAs(service, 'act', 'phone that goes');
    await service.send('DELETE', `/api/devices/${await idOf('phone that goes')}`);
    // Reads the same record as a service that starts.
    const restarted = identityOn(service.store.identity);
    restarted.open();
    const secretIn = (cookie: string) => /=([\w-]{43});/.exec(cookie)?.[1] ?? '';
    expect(restarted.find('device', secretIn(kept))).toMatchObject({ name: 'phone that stays', right: 'act' });
    expect(restarted.find('device', secretIn(removed))).toBeNull();
  });

  it('a token closes what its program has open', async () => {
    const added = await service.send('POST', '/api/tokens', { name: 'logger', right: 'watch' });
    const headers = { authorization: `Bearer ${(added.body as { token: string }).token}` };
    const feed = (await openFeed(headers)) as WebSocket;
    const closed = new Promise<number>((resolve) => feed.once('close', resolve));
    const id = await idOf('logger');
    // The number of a token is no number of a device.
    expect((await service.send('DELETE', `/api/devices/${id}`)).status).toBe(404);
    expect((await service.send('DELETE', `/api/tokens/${id}`)).status).toBe(204);
    expect(await closed).toBe(1008);
    expect((await askAs(service, 'GET', '/api/state', headers)).status).toBe(401);
  });
});

describe('the notifications of a device', () => {
  const keys = createECDH('prime256v1');
  const settings = {
    kind: 'push',
    // Nothing listens there.
    endpoint: 'https://127.0.0.1:9/x',
    p256dh: keys.generateKeys('base64url'),
    auth: Buffer.alloc(16).toString('base64url'),
  };
  const channels = async () => (await service.get<PeopleView>('/api/people')).channels.map(({ name }) => name);
  const turnOn = (cookie: string, endpoint = settings.endpoint) =>
    askAs(service, 'POST', '/api/phones', pageOf(service, cookie), {
      person: 'Ada',
      device: 'her phone',
      settings: { ...settings, endpoint },
    });

  it('end when it is removed, and no others', async () => {
    const cookie = await pairedAs(service, 'act', 'lost phone');
    expect((await turnOn(cookie)).status).toBe(201);
    expect((await turnOn(await pairedAs(service, 'act', 'other phone'), `${settings.endpoint}2`)).status).toBe(201);
    expect(await channels()).toStrictEqual(['her phone', 'her phone 2']);
    await service.send('DELETE', `/api/devices/${await idOf('lost phone')}`);
    await expect.poll(channels).toStrictEqual(['her phone 2']);
    const contacts = async () => (await service.get<PeopleView>('/api/people')).contacts;
    await expect.poll(async () => (await contacts())[0]!.channelIds.length).toBe(1);
    await service.send('DELETE', `/api/devices/${await idOf('other phone')}`);
    await expect.poll(channels).toStrictEqual([]);
  });

  it('go on when it is paired again, until it is removed', async () => {
    const cookie = await pairedAs(service, 'act', 'phone at home');
    await turnOn(cookie);
    const code = await codeFor(service, 'manage');
    const again = { name: 'phone at home', code };
    expect((await askAs(service, 'POST', '/api/devices', pageOf(service, cookie), again)).status).toBe(201);
    await expect.poll(channels).toStrictEqual(['her phone']);
    // The channel may be saved meanwhile, as its form sends it.
    const { id } = (await service.get<PeopleView>('/api/people')).channels[0]!;
    const asShown = { name: 'renamed', settings: { ...settings, endpoint: '', p256dh: '', auth: '' } };
    expect((await service.send('PUT', `/api/channels/${id}`, asShown)).status).toBe(200);
    await service.send('DELETE', `/api/devices/${await idOf('phone at home')}`);
    await expect.poll(channels).toStrictEqual([]);
  });
});

describe('changing a right', () => {
  it('applies at once, lasts over a restart, is in the journal, and needs the right to manage', async () => {
    const page = pageOf(service, await pairedAs(service, 'act', 'changing phone'));
    const id = await idOf('changing phone');
    const change = (right: string) => service.send('PUT', `/api/devices/${id}`, { right });
    const record = () => askAs(service, 'POST', '/api/record/check', page);
    expect((await askAs(service, 'PUT', `/api/devices/${id}`, page, { right: 'manage' })).status).toBe(403);
    expect((await record()).status).toBe(403);
    expect(await change('manage')).toMatchObject({
      status: 200,
      body: { id, name: 'changing phone', right: 'manage' },
    });
    expect((await record()).status).toBe(200);
    expect((await service.get<{ what: string }[]>('/api/log?limit=5')).map(({ what }) => what)).toContain(
      'Changed the right of the device “changing phone” from “act” to “manage”.',
    );
    const feed = (await openFeed(page)) as WebSocket;
    const closed = new Promise<number>((resolve) => feed.once('close', resolve));
    expect((await change('watch')).status).toBe(200);
    // Its page connects again and learns what it may do.
    expect(await closed).toBe(1008);
    expect((await askAs(service, 'GET', '/api/me', page)).body).toMatchObject({ right: 'watch' });
    expect((await askAs(service, 'POST', '/api/stage', page, { stage: null })).status).toBe(403);
    const restarted = identityOn(service.store.identity);
    restarted.open();
    expect(restarted.list('device').find((one) => one.id === id)).toMatchObject({ right: 'watch' });
  });

  it('of a token works the same, and is refused for what is none', async () => {
    const added = await service.send('POST', '/api/tokens', { name: 'plotter', right: 'watch' });
    const headers = { authorization: `Bearer ${(added.body as { token: string }).token}` };
    const id = await idOf('plotter');
    expect((await service.send('PUT', `/api/devices/${id}`, { right: 'act' })).body).toMatchObject({
      code: 'unknown-device',
    });
    expect((await service.send('PUT', `/api/tokens/${id}`, { right: 'all' })).status).toBe(400);
    expect((await service.send('PUT', `/api/tokens/${id}`, { right: 'act' })).status).toBe(200);
    expect((await askAs(service, 'POST', '/api/stage', headers, { stage: null })).status).toBe(200);
  });

  it('a device that takes the right to manage from itself, or removes itself, still gets its answer', async () => {
    const page = pageOf(service, await pairedAs(service, 'manage', 'leaving phone'));
    const path = `/api/devices/${await idOf('leaving phone')}`;
    expect((await askAs(service, 'PUT', path, page, { right: 'manage' })).status).toBe(200);
    const other = pageOf(service, await pairedAs(service, 'manage', 'humble phone'));
    const own = `/api/devices/${await idOf('humble phone')}`;
    expect((await askAs(service, 'PUT', own, other, { right: 'act' })).status).toBe(200);
    expect((await askAs(service, 'PUT', own, other, { right: 'manage' })).status).toBe(403);
    expect((await askAs(service, 'DELETE', path, page)).status).toBe(204);
  });
});

describe('pairing', () => {
  it('says whether an access key would do, to anyone', async () => {
    expect(await askAs(service, 'GET', '/api/pairing')).toMatchObject({ status: 200, body: { accessKey: false } });
  });

  it('works once with each code', async () => {
    const code = await codeFor(service, 'act');
    expect(Buffer.from(code, 'base64url').length * 8).toBeGreaterThanOrEqual(128);
    const first = await askAs(service, 'POST', '/api/devices', {}, { name: 'first', code });
    expect(first).toMatchObject({ status: 201, body: { right: 'act', device: { name: 'first' } } });
    const second = await askAs(service, 'POST', '/api/devices', {}, { name: 'second', code });
    expect(second).toMatchObject({ status: 401, body: { code: 'not-paired' } });
    expect(second.cookie).toBeNull();
  });

  const LOOKS_LIKE_FIRST = ['first', 'FIRST', 'fi\u200brst', 'ｆｉｒｓｔ', 'ﬁrst'];
  const NOT_SHOWN_AS_STORED = ['two\nlines', 'two\u2028lines', 'turned \u202edrow', '\u200b\u2060'];
  it.each(['', ' ', 'x'.repeat(61), ...NOT_SHOWN_AS_STORED, ...LOOKS_LIKE_FIRST])(
    'refuses the name %j and keeps the code',
    async (name) => {
      const code = await codeFor(service, 'watch');
      const refused = await askAs(service, 'POST', '/api/devices', {}, { name, code });
      expect(refused).toMatchObject({ status: 400, body: { code: 'bad-name', pointer: '/name' } });
      const answer = await askAs(service, 'POST', '/api/devices', {}, { name: `ok ${code}`, code });
      expect(answer.status).toBe(201);
    },
  );

  it('again replaces the session of the same browser', async () => {
    const before = pageOf(service, await pairedAs(service, 'watch', 'hall tablet'));
    const code = await codeFor(service, 'manage');
    const again = await askAs(service, 'POST', '/api/devices', before, { name: 'hall tablet', code });
    expect(again).toMatchObject({ status: 201, body: { right: 'manage' } });
    expect((await askAs(service, 'GET', '/api/state', before)).status).toBe(401);
    expect((await devices()).devices.filter(({ name }) => name === 'hall tablet')).toHaveLength(1);
  });

  it('needs either a code or the key', async () => {
    for (const body of [{ name: 'x' }, { name: 'x', code: 'a', accessKey: 'b' }])
      expect((await askAs(service, 'POST', '/api/devices', {}, body)).status).toBe(400);
  });
});

describe('who acted', () => {
  const lastWho = async () => (await service.get<{ who: string }[]>('/api/log?limit=1'))[0]?.who;
  it('is the device, and the person where one is named', async () => {
    const page = pageOf(service, await pairedAs(service, 'manage', 'bench tablet'));
    await askAs(service, 'POST', '/api/record/check', page);
    expect(await lastWho()).toBe('bench tablet');
    await askAs(service, 'POST', '/api/record/check', { ...page, 'strandward-by': 'Ada' });
    expect(await lastWho()).toBe('Ada, on bench tablet');
    await service.send('POST', '/api/record/check', undefined, { 'strandward-by': 'Ada' });
    expect(await lastWho()).toBe('Ada');
  });
});

describe('with an access key', () => {
  const KEY = 'correct horse battery';
  let guarded: TestService;
  beforeEach(async () => {
    guarded = await startTestService('simulator:steady', {}, undefined, KEY);
    return () => guarded.stop();
  });

  it('a person types it once and has a session that may manage', async () => {
    const paired = await askAs(guarded, 'POST', '/api/devices', {}, { name: 'desk', accessKey: KEY });
    expect(paired).toMatchObject({ status: 201, body: { right: 'manage' } });
    const list = await askAs(guarded, 'GET', '/api/devices', pageOf(guarded, paired.cookie ?? ''));
    expect(list).toMatchObject({ status: 200, body: { accessKey: true, devices: [{ name: 'desk' }] } });
    expect((await askAs(guarded, 'GET', '/api/pairing')).body).toEqual({ accessKey: true });
  });

  it('guessing codes and keys is slowed down, for tokens too', async () => {
    const guess = (body: object) => askAs(guarded, 'POST', '/api/devices', {}, { name: 'x', ...body });
    expect((await guess({ code: 'one' })).status).toBe(401);
    expect((await guess({ accessKey: 'two' })).status).toBe(401);
    expect((await guess({ code: 'three' })).status).toBe(401);
    expect(await guess({ accessKey: KEY })).toMatchObject({ status: 429, body: { code: 'too-many-requests' } });
    expect((await askAs(guarded, 'GET', '/api/state', { authorization: `Bearer ${KEY}` })).status).toBe(429);
  });
});

describe('an invitation', () => {
  const memory = (): IdentityStore => {
    const rows: StoredCredential[] = [];
    return {
      credentials: () => rows,
      addCredential: (one) => {
        const added = { ...one, id: rows.length + 1 };
        rows.push(added);
        return added;
      },
      credentialSeen: () => {},
      changeRight: () => {},
      revokeCredential: () => {},
    };
  };
  let nowMs = 0;
  const identity = identityOn(memory(), () => nowMs);
  const pair = (code: string, name: string): Credential | null =>
    identity.pairWithCode(code, name, null)?.credential ?? null;

  it('ends after ten minutes', () => {
    const { code, validMs } = identity.invite('act', 'Ada');
    expect(validMs).toBe(TEN_MINUTES);
    const late = identity.invite('act', 'Ada').code;
    nowMs += TEN_MINUTES - 1;
    expect(pair(code, 'in time')).toMatchObject({ right: 'act', createdBy: 'Ada' });
    nowMs += 1;
    expect(pair(late, 'too late')).toBeNull();
  });

  it('does not fill memory: the oldest of many ends', () => {
    const codes = Array.from({ length: 30 }, () => identity.invite('watch', 'Ada').code);
    expect(pair(codes[0] ?? '', 'oldest')).toBeNull();
    expect(pair(codes.at(-1) ?? '', 'newest')).not.toBeNull();
    expect(new Set(codes).size).toBe(30);
  });
});
