/** Who is let in without being paired: by the way a request came, by a key. */
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { KeyGuesses } from '../../server/api/key-guesses.ts';
import { RequestLimit } from '../../server/api/request-limit.ts';
import { isGuessable } from '../../server/command/guessable-key.ts';
import { readWatch } from '../../server/command/watch.ts';
import { startTestService, type TestService } from '../api/test-service.ts';
import { seeded } from '../chance.ts';

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
    expect((await service.send('GET', '/api/state')).status).toBe(401);
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
  ...['123456789012', 'qwertyuiopas', 'mnbvcxzlkjhg', '1qaz2wsx3edc', 'abcdefghijkl'],
  // In the list of common passwords of @zxcvbn-ts/language-common 4.1.3.
  ...['password1234', 'administrator', 'Philadelphia', '010203040506', 'q1w2e3r4t5y6'],
])('%s is no access key', (key) => {
  expect(() => readWatch(['--access-key', key], {})).toThrow(/easily guessed/);
});

it('hardly any random key counts as easily guessed', () => {
  const random = seeded(8);
  const letters = 'abcdefghijklmnopqrstuvwxyz0123456789';
  const keys = Array.from({ length: 20_000 }, () =>
    Array.from({ length: 12 }, () => letters[Math.floor(random() * letters.length)]).join(''),
  );
  expect(keys.filter(isGuessable).length).toBeLessThan(10);
});

it('the request limit counts an IPv6 network as one address', () => {
  const limit = new RequestLimit(3, () => 0);
  const admitted = [1, 2, 3, 4].map((n) => limit.admits(`2001:db8:0:1::${n}`));
  expect(admitted).toEqual([true, true, true, false]);
  expect(limit.admits('2001:db8:0:2::1')).toBe(true);
  expect(limit.admits('::ffff:192.0.2.7')).toBe(true);
});
