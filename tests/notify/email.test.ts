import { SMTPServer, type SMTPServerOptions } from 'smtp-server';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import type { EmailSettings } from '../../server/calling/channel.ts';
import { until } from '../service/running-service.ts';
import { type Certificate, makeCertificate } from './certificate.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';

interface Mail {
  readonly text: string;
  readonly to: readonly string[];
  readonly secure: boolean;
  readonly user: string | undefined;
}

let certificate: Certificate;
let under: NotifierUnderTest;
const servers: SMTPServer[] = [];
const mails: Mail[] = [];
beforeAll(() => {
  certificate = makeCertificate();
});
afterAll(() => certificate.remove());
beforeEach(async () => {
  mails.length = 0;
  under = await startNotifier({ attemptMs: 8000 });
});
afterEach(async () => {
  await under.remove();
  for (const server of servers.splice(0)) await new Promise<void>((resolve) => server.close(() => resolve()));
});

/** A real SMTP server on loopback; gives its port. */
async function mailServer(options: SMTPServerOptions = {}): Promise<number> {
  const server = new SMTPServer({
    key: certificate.key,
    cert: certificate.cert,
    authOptional: false,
    logger: false,
    onAuth: ({ username, password }, _session, done) =>
      username === 'line' && password === 'right-password'
        ? done(null, { user: username })
        : done(new Error('535 authentication failed')),
    onRcptTo: ({ address }, _session, done) =>
      address.startsWith('nobody') ? done(Object.assign(new Error('no such mailbox'), { responseCode: 550 })) : done(),
    onData: (stream, session, done) => {
      let text = '';
      stream.on('data', (chunk: Buffer) => {
        text += chunk.toString('utf8');
      });
      stream.on('end', () => {
        const to = session.envelope.rcptTo.map(({ address }) => address);
        mails.push({ text, to, secure: session.secure, user: session.user });
        done();
      });
    },
    ...options,
  });
  server.on('error', () => {});
  servers.push(server);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return (server.server.address() as { port: number }).port;
}

const settings = (port: number, more: Partial<EmailSettings> = {}): EmailSettings => ({
  kind: 'email',
  host: 'localhost',
  port,
  security: 'starttls',
  user: 'line',
  password: 'right-password',
  from: 'line@example.org',
  to: 'ada@example.org, ben@example.org',
  certificate: certificate.cert,
  ...more,
});

describe('e-mail', () => {
  it('brings an alarm over STARTTLS, signed in, with what to check first and where to answer', async () => {
    const port = await mailServer();
    under.setRules({ pageAddress: 'https://line.example' });
    under.addPerson('Ada', [await under.addChannel('Mail', settings(port))]);
    under.raise();
    const [mail] = await until(
      () => mails,
      (list) => list.length > 0,
      'the mail',
    );
    expect(mail).toMatchObject({ secure: true, user: 'line', to: ['ada@example.org', 'ben@example.org'] });
    const unfolded = mail!.text
      .replace(/\r\n/g, '\n')
      .replace(/=\n/g, '')
      .replace(/\n[ \t]/g, ' ');
    expect(unfolded).toMatch(/Subject: .*Blob/);
    expect(unfolded).toContain('Blob of 1.98 mm at 41.20 m of spool 1.');
    expect(unfolded).toContain('First check: Cut it out.');
    expect(unfolded).toContain('https://line.example/answer/a1t');
    expect(unfolded).toMatch(/Auto-Submitted: auto-generated/);
    expect(unfolded).toMatch(/Message-ID: <alarm-1-[\w-]+@example\.org>/);
  });

  it('brings it over TLS from the first byte', async () => {
    const port = await mailServer({ secure: true });
    await under.notifier.tryChannel(null, 'Mail', settings(port, { security: 'tls' }));
    expect(mails).toMatchObject([{ secure: true }]);
  });

  it.each<[string, () => Promise<EmailSettings>, RegExp]>([
    [
      'a wrong password',
      async () => settings(await mailServer(), { password: 'wrong-password' }),
      /does not accept the user name “line” with this password/,
    ],
    [
      'a server without STARTTLS',
      async () => settings(await mailServer({ disabledCommands: ['STARTTLS'], allowInsecureAuth: true })),
      /does not offer the TLS that was chosen/,
    ],
    [
      'TLS on a port that begins without',
      async () => settings(await mailServer(), { security: 'tls' }),
      /does not begin with TLS on this port/,
    ],
    [
      'a certificate that nobody vouches for',
      async () => settings(await mailServer(), { certificate: '' }),
      /certificate of localhost is signed by itself/,
    ],
    [
      'a mailbox that is not there',
      async () => settings(await mailServer(), { to: 'nobody@example.org' }),
      /does not take mail for nobody@example\.org/,
    ],
    ['a port where nobody listens', async () => settings(1), /Nothing listens at localhost/],
  ])('tells %s in words, without the password', async (_what, make, words) => {
    const given = await make();
    const failure = await under.notifier.tryChannel(null, 'Mail', given).catch((thrown: unknown) => thrown);
    expect(failure).toMatchObject({ code: 'channel-failed', message: expect.stringMatching(words) });
    expect(JSON.stringify([failure, under.logged])).not.toMatch(/(right|wrong)-password/);
    expect(mails).toEqual([]);
  });

  it('waits for a mailbox that is busy, and brings the mail then', async () => {
    let busy = true;
    const port = await mailServer({
      onMailFrom: (_address, _session, done) =>
        busy ? done(Object.assign(new Error('try later'), { responseCode: 451 })) : done(),
    });
    under.addPerson('Ada', [await under.addChannel('Mail', settings(port))]);
    under.raise();
    await until(
      () => under.logged,
      (lines) => lines.some((line) => /not taken/.test(line)),
      'a first attempt',
    );
    busy = false;
    await until(
      () => mails,
      (list) => list.length === 1,
      'the mail',
    );
  });
});
