/** Who is let in without being paired: by the way a request came, by a key. */
import { rmSync } from 'node:fs';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it, vi } from 'vitest';
import { createKeyWork, refuseGuessable } from '../../server/api/guessable-key.ts';
import { KeyGuesses } from '../../server/api/key-guesses.ts';
import { RequestLimit } from '../../server/api/request-limit.ts';
import { MUTE, startTestService, type TestService } from '../api/test-service.ts';
import { seeded } from '../chance.ts';
import { newRecord } from '../store/new-record.ts';
import { askAs } from './other-device.ts';

const KEY = 'correct horse battery';
const bearer = (key: string) => ({ authorization: `Bearer ${key}` });

describe('without a key', () => {
  let service: TestService;
  beforeAll(async () => {
    service = await startTestService('simulator:steady');
  });
  afterAll(() => service.stop());

  it.each(['Forwarded', 'Via', 'X-Forwarded-For', 'X-Forwarded-Host', 'X-Forwarded-Proto', 'X-Real-IP'])(
    'refuses what a proxy on this machine forwards: %s',
    async (header) => {
      for (const [method, path] of [
        ['GET', '/api/state'],
        ['GET', '/live'],
        ['PUT', '/api/settings'],
      ] as const) {
        const reply = await service.send(method, path, method === 'PUT' ? {} : undefined, { [header]: '192.0.2.7' });
        expect(reply).toMatchObject({ status: 401, body: { code: 'not-paired' } });
      }
    },
  );

  it('answers a direct request', async () => {
    expect((await service.send('GET', '/api/state')).status).toBe(200);
  });

  it.each(['LocalHost', 'localhost.', '127.0.0.1.', '[::1]'])('knows this machine as %s, with a port', async (name) => {
    expect((await askAs(service, 'GET', '/api/me', { host: `${name}:8750` })).status).toBe(200);
  });

  it.each([
    'localhost.example',
    'notlocalhost',
    '127.0.0.1.example',
    'localhost..',
    '0.0.0.0',
    '127.1',
    '127.999.0.1',
    '[127.0.0.1',
  ])('does not take %s for a name of this machine', async (host) => {
    expect((await askAs(service, 'GET', '/api/me', { host })).status).toBe(401);
  });

  it('goes by the host in the target of a request, if it names one', async () => {
    expect((await askAs(service, 'GET', 'http://line.example/api/me', { host: 'localhost' })).status).toBe(401);
    expect((await askAs(service, 'GET', 'http://localhost/api/me', { host: 'line.example' })).status).toBe(200);
  });
});

describe('with a key', () => {
  let service: TestService;
  beforeAll(async () => {
    service = await startTestService('simulator:steady', {}, undefined, KEY);
  });
  afterAll(() => service.stop());

  // Last: afterwards this address has to wait.
  it('guessing is slowed down, also for the right key, and a page with an old key is not counted', async () => {
    const ask = (key: string) => service.send('GET', '/api/state', undefined, bearer(key));
    for (let i = 0; i < 20; i++) expect((await ask('an old key of this page')).status).toBe(401);
    expect((await ask(KEY)).status).toBe(200);
    expect((await ask('guess two')).status).toBe(401);
    expect((await ask('guess three')).status).toBe(401);
    expect(await ask('guess four')).toMatchObject({ status: 429, body: { code: 'too-many-requests' } });
    expect((await ask(KEY)).status).toBe(429);
    const refused = await fetch(`${service.address}/api/state`, { headers: bearer(KEY) });
    // RFC 9110, 10.2.3: seconds, without a fraction.
    expect([refused.status, refused.headers.get('retry-after')]).toEqual([429, '1']);
    expect((await service.send('GET', '/api/state')).status).toBe(401);
  });
});

describe('an alarm about guessing', () => {
  const alarmsOf = ({ monitor }: TestService) => monitor.snapshot().alarms.filter(({ type }) => type === 'keysGuessed');
  const goOn = (ms: number) => {
    const startMs = performance.now() + ms;
    const from = process.hrtime.bigint();
    vi.spyOn(performance, 'now').mockImplementation(() => startMs + Number(process.hrtime.bigint() - from) / 1e6);
  };
  const guess = async (service: TestService, key: string) => {
    expect((await service.send('GET', '/api/state', undefined, bearer(key))).status).toBe(401);
    goOn(61_000);
  };
  const guessedTenTimes = async (dataFolder: string) => {
    const service = await startTestService(MUTE, {}, undefined, KEY, { dataFolder });
    service.start();
    for (let i = 0; i < 9; i++) await guess(service, `guess ${i}`);
    expect(alarmsOf(service)).toEqual([]);
    await guess(service, 'the tenth');
    await expect.poll(() => alarmsOf(service)).toMatchObject([{ state: 'unacknowledged' }]);
    return service;
  };
  let dataFolder: string;
  beforeEach(() => {
    dataFolder = newRecord('strandward-door-');
  });
  afterEach(() => {
    vi.restoreAllMocks();
    rmSync(dataFolder, { recursive: true, force: true });
  });

  it('says what to do after ten wrong keys, and ends some time after the last one', async () => {
    const service = await guessedTenTimes(dataFolder);
    try {
      const [alarm] = alarmsOf(service);
      expect(alarm).toMatchObject({
        sentence: 'Someone is guessing the access key or a code: 10 wrong ones came from 127.0.0.1.',
        firstCheck: expect.stringContaining('Devices'),
      });
      expect(JSON.stringify((await service.send('GET', '/api/log', undefined, bearer(KEY))).body)).toContain(
        '10 wrong keys or codes came from 127.0.0.1. Someone is guessing.',
      );
      await guess(service, 'the eleventh');
      await expect.poll(() => alarmsOf(service)[0]!.sentence).toContain('11 wrong ones');
      service.monitor.alarms.acknowledge(alarm!.id, { name: 'Ada', from: null });
      expect(alarmsOf(service)).toMatchObject([{ state: 'acknowledged' }]);
      await expect
        .poll(() => {
          goOn(600_000);
          return alarmsOf(service);
        })
        .toEqual([]);
    } finally {
      await service.stop();
    }
  });

  it('does not stay after a restart', async () => {
    await (await guessedTenTimes(dataFolder)).stop();
    const restarted = await startTestService(MUTE, {}, undefined, KEY, { dataFolder });
    try {
      restarted.start();
      expect(alarmsOf(restarted)).toMatchObject([{ state: 'unacknowledged' }]);
      await expect
        .poll(() => {
          goOn(10_000);
          return alarmsOf(restarted);
        })
        .toMatchObject([{ state: 'returnedUnacknowledged' }]);
    } finally {
      await restarted.stop();
    }
  });
});

describe('wrong keys', () => {
  const guess = (guesses: KeyGuesses, address: string, count: number, from = 0) => {
    for (let i = 0; i < count; i++) guesses.failed(address, `${from + i}`);
  };

  it('make an address wait twice as long each time, up to a minute, and only that address', () => {
    let nowMs = 0;
    const guesses = new KeyGuesses(
      () => nowMs,
      () => {},
    );
    guess(guesses, '192.0.2.7', 2);
    expect(guesses.waitMs('192.0.2.7')).toBe(0);
    const waits: number[] = [];
    for (let i = 0; i < 8; i++) {
      guess(guesses, '192.0.2.7', 1, 10 + i);
      waits.push(guesses.waitMs('192.0.2.7'));
      nowMs += guesses.waitMs('192.0.2.7');
    }
    expect(waits).toStrictEqual([1, 2, 4, 8, 16, 32, 60, 60].map((s) => s * 1000));
    expect(guesses.waitMs('192.0.2.7')).toBe(0);
    expect(guesses.waitMs('192.0.2.8')).toBe(0);
    nowMs += 3_600_000;
    guess(guesses, '192.0.2.7', 1, 90);
    expect(guesses.waitMs('192.0.2.7')).toBe(0);
  });

  it('are reported once for an address, at the tenth', () => {
    const reported: [string, number][] = [];
    const guesses = new KeyGuesses(
      () => 0,
      (...one) => reported.push(one),
    );
    guess(guesses, '192.0.2.7', 9);
    expect(reported).toStrictEqual([]);
    guess(guesses, '192.0.2.7', 20, 9);
    expect(reported).toStrictEqual([['192.0.2.7', 10]]);
  });

  it('count as guessing from the tenth to an hour after the last, the address with most of them first', () => {
    let nowMs = 0;
    const guesses = new KeyGuesses(
      () => nowMs,
      () => {},
    );
    guess(guesses, '192.0.2.7', 9);
    guess(guesses, '2001:db8::1', 10);
    guess(guesses, '192.0.2.8', 30);
    const six = { address: '2001:db8::1', count: 10 };
    expect(guesses.guessing()).toStrictEqual([{ address: '192.0.2.8', count: 30 }, six]);
    nowMs += 3_599_999;
    guess(guesses, '2001:db8::1', 1, 0);
    expect(guesses.guessing()).toHaveLength(2);
    guess(guesses, '2001:db8::2', 1, 50);
    nowMs += 1;
    expect(guesses.guessing()).toStrictEqual([{ address: '2001:db8::2', count: 11 }]);
    nowMs += 3_600_000;
    expect(guesses.guessing()).toStrictEqual([]);
  });

  it('count for the whole network of an IPv6 address, and for an IPv4 address in either form', () => {
    const guesses = new KeyGuesses(
      () => 0,
      () => {},
    );
    for (let i = 0; i < 4; i++) guesses.failed(`2001:db8:0:1::${i}`, `${i}`);
    expect(guesses.waitMs('2001:db8::1:9:9:9:9')).toBeGreaterThan(0);
    expect(guesses.waitMs('2001:db8:0:2::1')).toBe(0);
    guess(guesses, '::ffff:192.0.2.7', 4);
    expect(guesses.waitMs('192.0.2.7')).toBeGreaterThan(0);
    expect(guesses.waitMs('::1')).toBe(0);
  });

  it('of more addresses than are remembered do not fill memory: the quietest are forgotten', () => {
    const guesses = new KeyGuesses(
      () => 0,
      () => {},
    );
    guess(guesses, 'first', 4);
    for (let i = 0; i < 1000; i++) guess(guesses, `address ${i}`, 4);
    expect(guesses.waitMs('first')).toBe(0);
    expect(guesses.waitMs('address 0')).toBeGreaterThan(0);
  });
});

it.each([
  ...['aaaaaaaaaaaa', 'abababababababab', '111122223333', 'passwordpassword', 'PasswordPassword', 'abcdefabcdefab'],
  ...['123456789012', 'qwertyuiopas', 'mnbvcxzlkjhg', '1qaz2wsx3edc', 'abcdefghijkl', 'changeme1234', 'correct horse'],
  ...['password1234', 'administrator', 'Philadelphia', '010203040506', 'q1w2e3r4t5y6', 'iloveyou2026'],
])('%s is no access key', async (key) => {
  await expect(refuseGuessable(key)).rejects.toThrow(/easily guessed/);
});

it.each(['kP3vX9mQ2rT7', 'correct horse battery', 'a key that a person chose'])('%s is one', async (key) => {
  await expect(refuseGuessable(key)).resolves.toBeUndefined();
});

it('no random key counts as easily guessed', async () => {
  const random = seeded(8);
  const letters = 'abcdefghijklmnopqrstuvwxyz0123456789';
  const { isGuessable } = createKeyWork();
  for (let i = 0; i < 100; i++) {
    const key = Array.from({ length: 12 }, () => letters[Math.floor(random() * letters.length)]).join('');
    expect(await isGuessable(key)).toBe(false);
  }
});

it('the request limit says how long to wait', () => {
  let nowMs = 0;
  const limit = new RequestLimit(1, () => nowMs);
  expect([limit.count('::1'), limit.count('::1')]).toEqual([0, 60_000]);
  nowMs += 45_500;
  expect(limit.count('::1')).toBe(14_500);
  nowMs += 14_500;
  expect(limit.count('::1')).toBe(0);
});

it('the request limit counts an IPv6 network as one address', () => {
  const limit = new RequestLimit(3, () => 0);
  const admitted = [1, 2, 3, 4].map((n) => limit.count(`2001:db8:0:1::${n}`) === 0);
  expect(admitted).toEqual([true, true, true, false]);
  expect(limit.count('2001:db8:0:2::1')).toBe(0);
  expect(limit.count('::ffff:192.0.2.7')).toBe(0);
});
