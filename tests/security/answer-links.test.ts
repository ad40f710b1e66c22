/** What the link in a message opens, for how long, and how often. */
import { createHmac } from 'node:crypto';
import { afterEach, describe, expect, it } from 'vitest';
import { RequestLimit } from '../../server/api/request-limit.ts';
import { ANSWER_VALID_MS, readToken, tokenFor } from '../../server/notify/answer-token.ts';
import { startTestService, type TestService } from '../api/test-service.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { HttpReceiver } from '../notify/http-receiver.ts';
import { type NotifierUnderTest, startNotifier } from '../notify/notifier-under-test.ts';
import { askAs } from './other-device.ts';

const closers: (() => Promise<unknown>)[] = [];
afterEach(async () => {
  for (const close of closers.splice(0)) await close();
});

async function alarmLink(): Promise<{ under: NotifierUnderTest; token: string; alarmId: number }> {
  const http = await new HttpReceiver().start();
  const under = await startNotifier();
  closers.push(
    () => under.remove(),
    () => http.stop(),
  );
  const id = await under.addChannel('Hook', { kind: 'webhook', url: `${http.url}/hook`, secret: '', template: '' });
  under.addPerson('Ada', [id]);
  const alarm = under.raise();
  const sent = () => under.store.people.ended({ dead: false, limit: 9 })[0] ?? under.store.people.waiting()[0];
  await expect.poll(() => sent()?.message.answerPath ?? null, { timeout: 20_000 }).toMatch(/^\/answer\//);
  return { under, token: sent()!.message.answerPath!.split('/').at(-1)!, alarmId: alarm.id };
}

describe('the link in a message', () => {
  it('works until 24 hours after the message, then neither shows nor answers anything', async () => {
    const { under, token } = await alarmLink();
    expect(under.notifier.question(token).state).toBe('open');
    under.aheadMs = ANSWER_VALID_MS + 1000;
    expect(() => under.notifier.question(token)).toThrow(/expired/);
    expect(() => under.notifier.answer(token, null)).toThrow(/expired/);
    await expect(under.notifier.picture(token)).rejects.toThrow(/expired/);
  });

  it('cannot be extended or pointed elsewhere', () => {
    const target = { what: 'alarm', id: 7, sinceMs: 1000, contactIds: [3], untilMs: 5000 } as const;
    const token = tokenFor(target, 'secret');
    expect(readToken(token, 'secret')).toStrictEqual(target);
    const forgeries = [token.replace('-u3uw-', '-u9zzz-'), token.replace('a7t', 'a8t'), token.replace('-3-', '-4-')];
    for (const forged of [...forgeries, token.replace('-u3uw', '')]) {
      expect(forged).not.toBe(token);
      expect(readToken(forged, 'secret'), forged).toBeNull();
    }
    expect(readToken(token, 'another secret')).toBeNull();
    // A link that does not say until when has expired.
    const drill = `d5-3-${createHmac('sha256', 'secret').update('d5-3').digest('hex').slice(0, 32)}`;
    expect(readToken(drill, 'secret')).toMatchObject({ what: 'drill', id: 5, untilMs: 0 });
  });
});

describe('requests by such links', () => {
  it('are refused after 60 in a minute', async () => {
    const service: TestService = await startTestService('simulator:steady');
    closers.push(() => service.stop());
    for (let i = 0; i < 60; i++) expect((await service.send('GET', '/api/answers/none')).status).toBe(404);
    expect(await service.send('POST', '/api/answers/none')).toMatchObject({
      status: 429,
      body: { code: 'too-many-requests' },
    });
    expect((await service.send('GET', '/api/state')).status).toBe(200);
  });

  it.skipIf(!IS_LONG_CHECK)(
    'count beside all other requests of an address, of which it may send 6000 a minute',
    async () => {
      const service = await startTestService('simulator:steady');
      closers.push(() => service.stop());
      const ask = async (count: number) =>
        (await Promise.all(Array.from({ length: count }, () => askAs(service, 'GET', '/api/state')))).map(
          (r) => r.status,
        );
      for (let i = 0; i < 60; i++) expect(new Set(await ask(100))).toEqual(new Set([401]));
      expect(await ask(1)).toEqual([429]);
      // The machine itself is not limited: its user could do anything anyway.
      expect((await service.send('GET', '/api/state')).status).toBe(200);
    },
  );

  it('are counted again each minute, for each address', () => {
    let nowMs = 0;
    const limit = new RequestLimit(2, () => nowMs);
    expect([1, 2, 3].map(() => limit.count('a'))).toStrictEqual([0, 0, 60_000]);
    expect(limit.count('b')).toBe(0);
    nowMs = 60_000;
    expect(limit.count('a')).toBe(0);
  });
});
