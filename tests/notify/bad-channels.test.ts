/** A fault of a channel is reported by "Send a test", and later in the state of the channel. */
import { createServer } from 'node:net';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { ChannelSettings } from '../../server/escalation/channel.ts';
import { until } from '../service/running-service.ts';
import { type Certificate, makeCertificate } from './certificate.ts';
import { HttpReceiver } from './http-receiver.ts';
import { MAIL_USER, MailReceiver } from './mail-receiver.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';
import { PushReceiver } from './push-receiver.ts';

let certificate: Certificate;
let mail: MailReceiver;
let http: HttpReceiver;
let under: NotifierUnderTest;
beforeAll(() => {
  certificate = makeCertificate();
});
afterAll(() => certificate.remove());
beforeEach(async () => {
  mail = new MailReceiver(certificate);
  http = await new HttpReceiver().start();
  under = await startNotifier({ attemptMs: 8000 });
});
afterEach(async () => {
  await under.remove();
  await Promise.all([mail.stop(), http.stop()]);
});

/** A port that nothing listens on any more. */
async function deadPort(): Promise<number> {
  const server = createServer();
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const { port } = server.address() as { port: number };
  await new Promise((resolve) => server.close(resolve));
  return port;
}

const wrongPassword = async (): Promise<ChannelSettings> => ({
  kind: 'email',
  host: 'localhost',
  port: await mail.listen(),
  security: 'starttls',
  user: MAIL_USER,
  password: 'wrong-password',
  from: 'line@example.org',
  to: 'ada@example.org',
  certificate: certificate.cert,
});
const unreachableBroker = async (): Promise<ChannelSettings> => ({
  kind: 'mqtt',
  address: `mqtt://127.0.0.1:${await deadPort()}`,
  user: '',
  password: '',
  baseTopic: 'line',
  certificate: '',
});
const expiredSubscription = async (): Promise<ChannelSettings> => {
  http.otherwise = { status: 410 };
  return { kind: 'push', endpoint: `${http.url}/expired`, ...new PushReceiver().keys };
};

describe('a channel that does not work', () => {
  it.each<[string, () => Promise<ChannelSettings>, RegExp]>([
    ['a wrong SMTP password', wrongPassword, /does not accept the user name “line” with this password/],
    ['an unreachable broker', unreachableBroker, /Nothing is listening at the broker 127\.0\.0\.1/],
  ])('for %s reports that in the test, and later in its state', async (_what, make, text) => {
    const settings = await make();
    await expect(under.notifier.tryChannel(null, 'Channel', settings)).rejects.toThrow(text);
    const id = await under.addChannel('Channel', settings);
    under.addPerson('Ada', [id]);
    under.raise();
    const stateNow = () => under.notifier.overview().channels[0]!.state;
    await until(stateNow, ({ phase }) => phase === 'failing', 'it is failing', 60_000);
    expect(stateNow()).toMatchObject({ text: expect.stringMatching(text), remedy: expect.stringMatching(/\w/) });
    expect(under.notifier.troubles()[0]).toMatch(text);
    expect(JSON.stringify([stateNow(), under.logged])).not.toContain('wrong-password');
    // The message is not lost, nor is the report of the step that a broker gets.
    const waiting = settings.kind === 'mqtt' ? 2 : 1;
    expect(under.notifier.overview()).toMatchObject({ failedMessages: [], channels: [{ waiting }] });
  });

  it('for an expired push subscription reports that in the test; later it is removed and the removal is reported', async () => {
    const settings = await expiredSubscription();
    const text = /This browser has given up its subscription/;
    await expect(under.notifier.tryChannel(null, 'Phone', settings)).rejects.toThrow(text);
    under.addPerson('Ada', [await under.addChannel('Phone', settings)]);
    under.raise();
    await until(
      () => under.notifier.overview().channels,
      (list) => list.length === 0,
      'it is removed',
    );
    expect(under.notifier.overview().failedMessages).toMatchObject([{ why: expect.stringMatching(text) }]);
    expect(under.notifier.troubles()).toEqual(['No one can be reached: no channel leads to Ada.']);
  });

  it('for a template that does not parse can be neither tested nor added', async () => {
    const settings = { kind: 'webhook', url: http.url, secret: '', template: '{"text": "{{text}"}' } as const;
    await expect(under.notifier.tryChannel(null, 'Chat', settings)).rejects.toThrow(/has no matching \}\}/);
    await expect(under.addChannel('Chat', settings)).rejects.toThrow(/has no matching \}\}/);
    expect(under.notifier.overview().channels).toEqual([]);
    expect(http.received).toEqual([]);
  });
});
