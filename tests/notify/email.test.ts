import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { EmailSettings } from '../../server/escalation/channel.ts';
import { until } from '../service/running-service.ts';
import { type Certificate, makeCertificate } from './certificate.ts';
import { MAIL_PASSWORD, MAIL_USER, MailReceiver } from './mail-receiver.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';

let certificate: Certificate;
let under: NotifierUnderTest;
let mail: MailReceiver;
beforeAll(() => {
  certificate = makeCertificate();
});
afterAll(() => certificate.remove());
beforeEach(async () => {
  mail = new MailReceiver(certificate);
  under = await startNotifier({ attemptMs: 8000 });
});
afterEach(async () => {
  await under.remove();
  await mail.stop();
});

const settings = (port: number, more: Partial<EmailSettings> = {}): EmailSettings => ({
  kind: 'email',
  host: 'localhost',
  port,
  security: 'starttls',
  user: MAIL_USER,
  password: MAIL_PASSWORD,
  from: 'line@example.org',
  to: 'ada@example.org, ben@example.org',
  certificate: certificate.cert,
  ...more,
});

describe('e-mail', () => {
  it('delivers an alarm over STARTTLS after a login, with the first check and a link to answer', async () => {
    const port = await mail.listen();
    under.setRules({ pageAddress: 'https://line.example' });
    under.addPerson('Ada', [await under.addChannel('Mail', settings(port))]);
    under.raise();
    const [came] = await until(
      () => mail.mails,
      (list) => list.length > 0,
      'the mail',
    );
    expect(came).toMatchObject({ secure: true, user: 'line', to: ['ada@example.org', 'ben@example.org'] });
    const unfolded = came!.text
      .replace(/\r\n/g, '\n')
      .replace(/=\n/g, '')
      .replace(/\n[ \t]/g, ' ');
    expect(unfolded).toMatch(/Subject: .*Blob/);
    expect(unfolded).toContain('Blob of 1.98 mm at 41.20 m of spool 1.');
    expect(unfolded).toContain('Check first: Cut it out.');
    expect(unfolded).toContain('https://line.example/answer/a1t');
    expect(unfolded).toMatch(/Auto-Submitted: auto-generated/);
    expect(unfolded).toMatch(/Message-ID: <alarm-1-[\w-]+@example\.org>/);
    // One thread for all blobs of a run: RFC 5322, section 3.6.4.
    expect(unfolded).toMatch(/In-Reply-To: <alarm-1\.thread@example\.org>/);
    expect(unfolded).toMatch(/References: <alarm-1\.thread@example\.org>/);
    expect(unfolded).toContain('You asked to be woken for every blob.');
  });

  it('delivers it over TLS from the first byte', async () => {
    const port = await mail.listen({ secure: true });
    await under.notifier.tryChannel(null, 'Mail', settings(port, { security: 'tls' }));
    expect(mail.mails).toMatchObject([{ secure: true }]);
  });

  it.each<[string, () => Promise<EmailSettings>, RegExp]>([
    [
      'a wrong password',
      async () => settings(await mail.listen(), { password: 'wrong-password' }),
      /does not accept the user name “line” with this password/,
    ],
    [
      'a server without STARTTLS',
      async () => settings(await mail.listen({ disabledCommands: ['STARTTLS'], allowInsecureAuth: true })),
      /does not offer the chosen kind of TLS/,
    ],
    [
      'TLS on a port that starts without it',
      async () => settings(await mail.listen(), { security: 'tls' }),
      /does not start with TLS on this port/,
    ],
    [
      'a certificate that no authority has signed',
      async () => settings(await mail.listen(), { certificate: '' }),
      /certificate of localhost is self-signed/,
    ],
    [
      'a mailbox that does not exist',
      async () => settings(await mail.listen(), { to: 'nobody@example.org' }),
      /does not accept mail for nobody@example\.org/,
    ],
    ['a port where nobody listens', async () => settings(1), /Nothing is listening at localhost/],
  ])('reports %s in plain text, without the password', async (_what, make, text) => {
    const settings = await make();
    const failure = await under.notifier.tryChannel(null, 'Mail', settings).catch((thrown: unknown) => thrown);
    expect(failure).toMatchObject({ code: 'channel-failed', message: expect.stringMatching(text) });
    expect(JSON.stringify([failure, under.logged])).not.toMatch(/(right|wrong)-password/);
    expect(mail.mails).toEqual([]);
  });

  it('retries when a mailbox is busy, and delivers the mail later', async () => {
    let busy = true;
    const port = await mail.listen({
      onMailFrom: (_address, _session, done) =>
        busy ? done(Object.assign(new Error('try later'), { responseCode: 451 })) : done(),
    });
    under.addPerson('Ada', [await under.addChannel('Mail', settings(port))]);
    under.raise();
    await until(
      () => under.logged,
      (lines) => lines.some((line) => /not delivered/.test(line)),
      'a first attempt',
    );
    busy = false;
    await until(
      () => mail.mails,
      (list) => list.length === 1,
      'the mail',
    );
  });
});
