import { SMTPServer, type SMTPServerOptions } from 'smtp-server';
import type { Certificate } from './certificate.ts';

export interface Mail {
  readonly text: string;
  readonly to: readonly string[];
  readonly secure: boolean;
  readonly user: string | undefined;
}

export const MAIL_USER = 'line';
export const MAIL_PASSWORD = 'right-password';

/** A real SMTP server on loopback that offers STARTTLS, requires a login, and stores what it accepts. */
export class MailReceiver {
  readonly mails: Mail[] = [];
  readonly #certificate: Certificate;
  readonly #servers: SMTPServer[] = [];

  constructor(certificate: Certificate) {
    this.#certificate = certificate;
  }

  /** Opens another server. @returns its port */
  async listen(options: SMTPServerOptions = {}): Promise<number> {
    const server = new SMTPServer({
      key: this.#certificate.key,
      cert: this.#certificate.cert,
      authOptional: false,
      logger: false,
      onAuth: ({ username, password }, _session, done) =>
        username === MAIL_USER && password === MAIL_PASSWORD
          ? done(null, { user: username })
          : done(new Error('535 authentication failed')),
      onRcptTo: ({ address }, _session, done) =>
        address.startsWith('nobody')
          ? done(Object.assign(new Error('no such mailbox'), { responseCode: 550 }))
          : done(),
      onData: (stream, session, done) => {
        const chunks: Buffer[] = [];
        stream.on('data', (chunk: Buffer) => chunks.push(chunk));
        stream.on('end', () => {
          const to = session.envelope.rcptTo.map(({ address }) => address);
          const text = Buffer.concat(chunks).toString('utf8');
          this.mails.push({ text, to, secure: session.secure, user: session.user });
          done();
        });
      },
      ...options,
    });
    server.on('error', () => {});
    this.#servers.push(server);
    await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
    return (server.server.address() as { port: number }).port;
  }

  async stop(): Promise<void> {
    for (const server of this.#servers.splice(0)) await new Promise<void>((resolve) => server.close(() => resolve()));
  }
}

export interface MailPart {
  /** Names in lower case, unfolded. */
  readonly headers: ReadonlyMap<string, string>;
  readonly body: Buffer;
}

/** The leaves of a mail: multipart by RFC 2046, section 5.1; transfer encodings by RFC 2045, section 6. */
export function partsOf(mail: string): MailPart[] {
  const [, head = '', body = ''] = /^([\s\S]*?)\r\n\r\n([\s\S]*)$/.exec(mail) ?? [];
  const lines = head.replace(/\r\n[ \t]+/g, ' ').split('\r\n');
  const headers = new Map(
    lines.map((line) => [line.slice(0, line.indexOf(':')).toLowerCase(), line.slice(line.indexOf(':') + 1).trim()]),
  );
  const boundary = /^multipart\/.*boundary="?([^";]+)"?/i.exec(headers.get('content-type') ?? '')?.[1];
  if (boundary === undefined) return [{ headers, body: decoded(body, headers.get('content-transfer-encoding') ?? '') }];
  return body
    .split(`--${boundary}`)
    .slice(1, -1)
    .flatMap((part) => partsOf(part.replace(/^\r\n/, '').replace(/\r\n$/, '')));
}

function decoded(body: string, encoding: string): Buffer {
  if (encoding === 'base64') return Buffer.from(body, 'base64');
  if (encoding !== 'quoted-printable') return Buffer.from(body, 'utf8');
  const bytes = body
    .replace(/=\r\n/g, '')
    .replace(/=([\dA-F]{2})/g, (_, hex: string) => String.fromCharCode(Number.parseInt(hex, 16)));
  return Buffer.from(bytes, 'latin1');
}
