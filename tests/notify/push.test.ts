import { createPublicKey, verify } from 'node:crypto';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import type { PushSettings } from '../../server/escalation/channel.ts';
import { until } from '../service/running-service.ts';
import { HttpReceiver } from './http-receiver.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';
import { PushReceiver } from './push-receiver.ts';

let service: HttpReceiver;
let browser: PushReceiver;
let under: NotifierUnderTest;
beforeEach(async () => {
  service = await new HttpReceiver().start();
  service.otherwise = { status: 201 };
  browser = new PushReceiver();
  under = await startNotifier({ attemptMs: 4000 });
});
afterEach(async () => {
  await under.remove();
  await service.stop();
});

const subscription = (): PushSettings => ({ kind: 'push', endpoint: service.url, ...browser.keys });
const came = (count: number) =>
  until(
    () => service.received.length,
    (n) => n >= count,
    `${count} messages`,
  );

/** Checks the signature of a token (RFC 8292) with the key that was sent with it. @returns its claims */
function claimsOf(authorization: string): { aud: string; exp: number; sub: string; key: string } {
  const [, token = '', key = ''] = /^vapid t=([\w.-]+), ?k=([\w-]+)$/.exec(authorization) ?? [];
  const [head = '', claims = '', signature = ''] = token.split('.');
  const raw = Buffer.from(key, 'base64url');
  const jwk = {
    kty: 'EC',
    crv: 'P-256',
    x: raw.subarray(1, 33).toString('base64url'),
    y: raw.subarray(33).toString('base64url'),
  };
  const publicKey = createPublicKey({ key: jwk, format: 'jwk' });
  const good = verify(
    'sha256',
    Buffer.from(`${head}.${claims}`),
    { key: publicKey, dsaEncoding: 'ieee-p1363' },
    Buffer.from(signature, 'base64url'),
  );
  expect(good).toBe(true);
  return { ...JSON.parse(Buffer.from(claims, 'base64url').toString()), key };
}

describe('web push', () => {
  it('delivers an alarm that only the browser can decrypt, signed with the key of the service', async () => {
    under.setRules({ pageAddress: 'https://line.example' });
    under.addPerson('Ada', [await under.addChannel('Phone', subscription())]);
    under.raise();
    await came(1);
    const { headers, body } = service.received[0]!;
    expect(headers).toMatchObject({ 'content-encoding': 'aes128gcm', urgency: 'high', topic: 'alarm-1' });
    expect(Number(headers.ttl)).toBeGreaterThanOrEqual(3600);
    expect(JSON.parse(browser.decrypt(body).toString())).toEqual({
      title: 'Get up: Blob',
      quiet: false,
      body: 'You asked to be woken for every blob. Blob of 1.98 mm at 41.20 m of spool 1. Cut it out.',
      tag: 'alarm-1',
      path: expect.stringMatching(/^\/answer\/a1t[\da-z]+-u[\da-z]+-1-[\da-f]{32}$/),
      picture: null,
      priority: 'high',
    });
    const { aud, exp, sub, key } = claimsOf(String(headers.authorization));
    expect([aud, sub, key]).toEqual([
      new URL(service.url).origin,
      'https://line.example',
      under.notifier.overview().pushKey,
    ]);
    // RFC 8292, section 2: not more than 24 hours ahead.
    expect(exp - Date.now() / 1000).toBeLessThanOrEqual(24 * 3600);
  });

  it('keeps its keys over a restart, because new keys would void every subscription', async () => {
    const { pushKey } = under.notifier.overview();
    expect(Buffer.from(pushKey, 'base64url')).toHaveLength(65);
    await under.restart();
    expect(under.notifier.overview().pushKey).toBe(pushKey);
  });

  it('adds a phone to a person once, however often it asks, and tests it each time', async () => {
    const phone = { device: 'Chrome on Android', settings: subscription(), deviceId: null };
    under.addPerson('Ben', [
      await under.addChannel('Chrome on Android', { ...subscription(), endpoint: `${service.url}2` }),
    ]);
    const first = await under.notifier.addPhone({ ...phone, person: ' Ada ' }, 'test');
    // A test that still waits holds up none of another phone.
    const second = await under.notifier.addPhone({ ...phone, person: 'ada' }, 'test');
    await came(2);
    expect([first, second].map(({ people }) => people.map(({ name }) => name))).toEqual([['Ada'], ['Ada']]);
    const { channels, contacts } = under.notifier.overview();
    expect(channels.map(({ channel }) => channel.name)).toEqual(['Chrome on Android', 'Chrome on Android 2']);
    expect(contacts).toMatchObject([{ name: 'Ben' }, { name: 'Ada', channelIds: [channels[1]!.channel.id], round: 1 }]);
    under.notifier.confirmDrill(first.id, contacts[1]!.id);
    await expect(under.notifier.addPhone({ ...phone, person: ' ' }, 'test')).rejects.toThrow(/has no name/);
  });

  it.each([404, 410])(
    'removes a subscription that the push service calls gone (%i), and reports it over the other channels',
    async (status) => {
      const other = await new HttpReceiver().start();
      service.otherwise = { status };
      const phone = await under.addChannel('Phone', subscription());
      const hook = await under.addChannel('Hook', { kind: 'webhook', url: other.url, secret: '', template: '' });
      under.addPerson('Ada', [phone, hook]);
      under.raise();
      await until(
        () => under.notifier.overview().channels,
        (list) => list.length === 1,
        'it is removed',
      );
      expect(under.notifier.overview().contacts[0]!.channelIds).toEqual([hook]);
      await until(
        () => other.bodies,
        (list) => list.length === 2,
        'the alarm and the trouble',
      );
      expect(other.bodies[1].data.text).toMatch(
        /“Phone” delivers no messages. This browser has given up its subscription/,
      );
      await other.stop();
    },
  );

  it('reports that no one can be reached when the only subscription is gone, and who has no channel', async () => {
    service.otherwise = { status: 410 };
    under.addPerson('Ada', [await under.addChannel('Phone', subscription())]);
    expect(under.notifier.troubles()).toEqual([]);
    under.raise();
    await until(
      () => under.notifier.troubles(),
      (list) => list.some((text) => /^No one can be reached: no channel leads to Ada\./.test(text)),
      'the trouble',
    );
    const other = await under.addChannel('Hook', { kind: 'webhook', url: service.url, secret: '', template: '' });
    under.addPerson('Ben', [other]);
    expect(under.notifier.troubles()[0]).toMatch(/^No channel leads to Ada\./);
  });

  it('reports a push service that does not accept the keys of this service', async () => {
    service.otherwise = { status: 403 };
    await expect(under.notifier.tryChannel(null, 'Phone', subscription())).rejects.toThrow(
      /does not accept the keys of this service/,
    );
  });

  it('stays within the size limit of push services and keeps the caution, however long the sentence', async () => {
    under.addPerson('Ada', [await under.addChannel('Phone', subscription())]);
    const caution = 'The die and what comes out of it burn.';
    under.raise({ sentence: 'Zone 2 (Die) is hot. '.repeat(400), caution });
    await came(1);
    // RFC 8030, section 7.2.
    expect(service.received[0]!.body.length).toBeLessThanOrEqual(4096);
    expect(JSON.parse(browser.decrypt(service.received[0]!.body).toString()).body).toMatch(/hot\. .* The die and what/);
  });
});
