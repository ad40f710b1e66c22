/** HTTPS with certificate files: what is refused at the start, how HTTP leads to it, how a new certificate comes into use. */
import { execFileSync } from 'node:child_process';
import { chmodSync, copyFileSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { request as requestHttp } from 'node:http';
import { request as requestHttps } from 'node:https';
import { type AddressInfo, connect as connectTcp } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connect } from 'node:tls';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { WebSocket } from 'ws';
import { securePort } from '../../server/api/secure-port.ts';
import { certificateFromFiles } from '../../server/certificate/certificate-files.ts';
import type { CertificateParts } from '../../server/certificate/server-certificate.ts';
import { startTestService, type TestService } from '../api/test-service.ts';
import { type Certificate, makeCertificate } from '../notify/certificate.ts';
import { until } from '../service/running-service.ts';

let folder: string;
let first: Certificate;
let second: Certificate;
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-https-'));
  first = makeCertificate();
  second = makeCertificate();
});
afterAll(() => {
  rmSync(folder, { recursive: true });
  first.remove();
  second.remove();
});

describe('at the start', () => {
  const open = async (
    certFile: string,
    keyFile: string,
    nowMs = Date.now(),
    warn: CertificateParts['warn'] = () => {},
  ) => {
    const opened = await certificateFromFiles({ certFile, keyFile }, { clock: () => nowMs, info: () => {}, warn });
    opened.stop();
    return opened.current();
  };

  it('takes two files that belong together', async () => {
    expect(await open(first.certFile, first.keyFile)).toStrictEqual({ cert: first.cert, key: first.key });
  });

  it('refuses a missing file, and says which', async () => {
    const missing = join(folder, 'missing.pem');
    await expect(open(missing, first.keyFile)).rejects.toThrow(
      /certificate .*missing\.pem cannot be read: no such file/,
    );
    await expect(open(first.certFile, missing)).rejects.toThrow(/key .*missing\.pem cannot be read: no such file/);
    await expect(open(folder, first.keyFile)).rejects.toThrow(/cannot be read: it is not a regular file/);
  });

  it('refuses a key of another certificate', async () => {
    await expect(open(first.certFile, second.keyFile)).rejects.toThrow(/does not belong to the certificate/);
  });

  it('refuses what is no certificate or no key, and a key with a passphrase', async () => {
    const text = join(folder, 'text.pem');
    writeFileSync(text, 'no PEM');
    await expect(open(text, first.keyFile)).rejects.toThrow(/contains no certificate in PEM format/);
    await expect(open(first.certFile, text)).rejects.toThrow(/contains no private key in PEM format/);
    const locked = join(folder, 'locked.pem');
    execFileSync('openssl', ['ec', '-aes256', '-passout', 'pass:x', '-in', first.keyFile, '-out', locked], {
      stdio: 'ignore',
    });
    await expect(open(first.certFile, locked)).rejects.toThrow(/or one with a passphrase/);
    const chain = join(folder, 'chain.pem');
    writeFileSync(chain, `${first.cert}-----BEGIN CERTIFICATE-----\nAAAA\n-----END CERTIFICATE-----\n`);
    await expect(open(chain, first.keyFile)).rejects.toThrow(/certificates that cannot be used/);
  });

  it('takes one that has expired, because the line must be watched, and says so with the day', async () => {
    const inThreeDays = Date.now() + 3 * 86_400_000;
    const warnings: unknown[] = [];
    const warn = (_: string, { why }: Readonly<Record<string, unknown>>) => void warnings.push(why);
    expect((await open(first.certFile, first.keyFile, inThreeDays, warn)).cert).toBe(first.cert);
    expect(warnings).toStrictEqual([expect.stringMatching(/expired on \d{4}-\d\d-\d\d/)]);
  });

  it.each([
    ['600', 0],
    ['640', 0],
    ['644', 1],
    ['602', 1],
  ])('takes a key of mode %s, and warns only if others may read or change it', async (mode, count) => {
    const own = join(folder, 'shared.pem');
    copyFileSync(first.keyFile, own);
    chmodSync(own, Number.parseInt(mode, 8));
    const warnings: unknown[] = [];
    expect((await open(first.certFile, own, Date.now(), (...said) => void warnings.push(said))).key).toBe(first.key);
    expect(warnings).toStrictEqual(
      Array(count).fill(['Other users of this machine can read or change the key', { fix: `chmod o-rw ${own}` }]),
    );
  });

  it.runIf(process.getuid?.() !== 0)('refuses a file that the user may not read', async () => {
    const own = join(folder, 'own.pem');
    copyFileSync(first.keyFile, own);
    chmodSync(own, 0);
    await expect(open(first.certFile, own)).rejects.toThrow(/cannot be read: permission denied/);
  });
});

it.each([
  ['says nothing', [], 0],
  ['begins a handshake and stops', [0x16, 3, 1, 2, 0, 1], 0],
  ['begins a handshake and trickles', [0x16, 3, 1, 2, 0, 1, 0, 1, 0xfc, 3, 3], 50],
])('closes a connection that %s', async (_what, begin, everyMs) => {
  const port = securePort({ cert: first.cert, key: first.key }, 300);
  const server = port.serverFor((_asked, reply) => reply.end(), {});
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  const stranger = connectTcp((server.address() as AddressInfo).port, '127.0.0.1');
  stranger.on('error', () => {});
  const trickle = everyMs > 0 ? setInterval(() => stranger.write(Buffer.from([0])), everyMs) : undefined;
  try {
    stranger.write(Buffer.from(begin));
    // A reset is an end, too, and `once` would fail on it.
    await until(() => stranger.closed, Boolean, 'the end of the connection');
  } finally {
    clearInterval(trickle);
    stranger.destroy();
    port.stop();
    server.close();
  }
});

it('keeps the certificate while the files do not belong together, and says so', async () => {
  const files = { certFile: join(folder, 'half.pem'), keyFile: join(folder, 'half-key.pem') };
  copyFileSync(first.certFile, files.certFile);
  copyFileSync(first.keyFile, files.keyFile);
  const warnings: unknown[] = [];
  const used: string[] = [];
  const opened = await certificateFromFiles(files, {
    clock: Date.now,
    info: () => {},
    warn: (_, facts) => void warnings.push(facts.why),
  });
  opened.onChange(({ cert }) => used.push(cert));
  try {
    copyFileSync(second.certFile, files.certFile);
    await until(
      () => warnings,
      ([why]) => /does not belong to/.test(String(why)),
      'the warning',
    );
    expect([opened.current().cert, used]).toStrictEqual([first.cert, []]);
    copyFileSync(second.keyFile, files.keyFile);
    await until(
      () => used,
      (list) => list.length > 0,
      'the new certificate',
    );
    expect([opened.current().cert, used]).toStrictEqual([second.cert, [second.cert]]);
  } finally {
    opened.stop();
  }
});

it('warns once if the key is opened to others while the service runs', async () => {
  const files = { certFile: join(folder, 'later.pem'), keyFile: join(folder, 'later-key.pem') };
  copyFileSync(first.certFile, files.certFile);
  copyFileSync(first.keyFile, files.keyFile);
  chmodSync(files.keyFile, 0o600);
  const said: string[] = [];
  const tell = (message: string) => void said.push(message);
  const opened = await certificateFromFiles(files, { clock: Date.now, info: tell, warn: tell });
  try {
    chmodSync(files.keyFile, 0o644);
    await until(
      () => said,
      (list) => list.length > 0,
      'the warning',
    );
    copyFileSync(second.keyFile, files.keyFile);
    copyFileSync(second.certFile, files.certFile);
    await until(
      () => said,
      (list) => list.includes('A new certificate is in use'),
      'the new certificate',
    );
    expect(said.filter((message) => /Other users/.test(message))).toHaveLength(1);
  } finally {
    opened.stop();
  }
});

it('keeps the certificate and goes on if a pipe that no one writes to takes the place of its file', async () => {
  const files = { certFile: join(folder, 'replaced.pem'), keyFile: first.keyFile };
  copyFileSync(first.certFile, files.certFile);
  const warnings: unknown[] = [];
  const warn = (_: string, facts: Readonly<Record<string, unknown>>) => void warnings.push(facts.why);
  const opened = await certificateFromFiles(files, { clock: Date.now, info: () => {}, warn });
  try {
    rmSync(files.certFile);
    execFileSync('mkfifo', [files.certFile]);
    await until(
      () => warnings,
      ([why]) => /it is not a regular file/.test(String(why)),
      'the warning',
    );
    expect(opened.current().cert).toBe(first.cert);
  } finally {
    opened.stop();
  }
});

it.each(['HTTP', 'HTTPS'])('a connection on which nothing moves is closed, by %s too', async (scheme) => {
  const port = securePort({ cert: first.cert, key: first.key });
  const server = port.serverFor((_, reply) => reply.write('the beginning of an answer'), { connectionTimeout: 200 });
  server.listen(0, '127.0.0.1');
  await new Promise((resolve) => server.once('listening', resolve));
  const at = { port: (server.address() as { port: number }).port, host: '127.0.0.1' };
  const socket = scheme === 'HTTP' ? connectTcp(at) : connect({ ...at, ca: first.cert });
  socket.once(scheme === 'HTTP' ? 'connect' : 'secureConnect', () => socket.write('GET / HTTP/1.1\r\nHost: x\r\n\r\n'));
  let came = '';
  socket.on('data', (chunk) => {
    came += chunk;
  });
  await new Promise((resolve) => socket.once('close', resolve));
  expect(came).toContain('the beginning of an answer');
  server.close();
});

describe('a service with certificate files', () => {
  let service: TestService;
  let certFile: string;
  let keyFile: string;
  let port: number;
  beforeAll(async () => {
    certFile = join(folder, 'cert.pem');
    keyFile = join(folder, 'key.pem');
    copyFileSync(first.certFile, certFile);
    copyFileSync(first.keyFile, keyFile);
    const https = { kind: 'files', certFile, keyFile } as const;
    service = await startTestService('simulator:steady', {}, undefined, null, { https });
    port = Number(new URL(service.address).port);
  });
  afterAll(() => service.stop());

  interface Reply {
    readonly status: number;
    readonly headers: Readonly<Record<string, string | string[] | undefined>>;
  }
  const ask = (
    scheme: 'http' | 'https',
    path: string,
    { method = 'GET', headers = {}, body }: { method?: string; headers?: Record<string, string>; body?: object } = {},
  ): Promise<Reply> =>
    new Promise((resolve, reject) => {
      const json = body === undefined ? {} : { 'content-type': 'application/json' };
      const options = {
        host: '127.0.0.1',
        port,
        path,
        method,
        ca: [first.cert, second.cert],
        servername: 'localhost',
        headers: { host: `line.example:${port}`, ...json, ...headers },
      };
      const sent = (scheme === 'https' ? requestHttps : requestHttp)(options, (reply) => {
        reply.resume();
        reply.on('end', () => resolve({ status: reply.statusCode ?? 0, headers: reply.headers }));
      });
      sent.on('error', reject);
      sent.end(body === undefined ? undefined : JSON.stringify(body));
    });
  const shownCertificate = () =>
    new Promise<string>((resolve, reject) => {
      const socket = connect({ port, host: '127.0.0.1', servername: 'localhost', rejectUnauthorized: false }, () => {
        resolve(socket.getPeerX509Certificate()?.toString() ?? '');
        socket.destroy();
      });
      socket.on('error', reject);
    });

  it('marks the session cookie as Secure, with the prefix that only HTTPS may set', async () => {
    const { body } = await service.send('POST', '/api/invitations', { right: 'watch' });
    const { code } = body as { code: string };
    const reply = await ask('https', '/api/devices', { method: 'POST', body: { name: 'phone', code } });
    expect(reply.status).toBe(201);
    const [cookie = ''] = reply.headers['set-cookie'] as string[];
    expect(cookie).toMatch(/^__Host-strandward\d+=[\w-]{43}; Path=\/; .*HttpOnly; SameSite=Strict; Secure$/);
    const asked = await ask('https', '/api/state', { headers: { cookie: cookie.split(';')[0] ?? '' } });
    expect(asked.status).toBe(200);
    // A door that HTTPS alone opens would be none.
    expect((await ask('https', '/api/state')).status).toBe(401);
  });

  it('leads HTTP to HTTPS, with path, query and method', async () => {
    const reply = await ask('http', '/spool/3?x=1');
    expect(reply).toMatchObject({ status: 308, headers: { location: `https://line.example:${port}/spool/3?x=1` } });
    const changing = await ask('http', '/api/stage', { method: 'POST', body: { stage: null } });
    expect(changing).toMatchObject({ status: 308, headers: { location: `https://line.example:${port}/api/stage` } });
    // A path that looks like another host stays a path.
    const tricky = await ask('http', '//elsewhere.example/api/state');
    expect(tricky.headers.location).toBe(`https://line.example:${port}//elsewhere.example/api/state`);
    const whole = await ask('http', `http://line.example:${port}/runs?x=1`, { headers: { host: 'elsewhere.example' } });
    expect(whole.headers.location).toBe(`https://line.example:${port}/runs?x=1`);
    expect((await ask('http', '*', { method: 'OPTIONS' })).status).toBe(404);
    expect((await ask('http', '/', { headers: { host: 'no name' } })).status).toBe(400);
  });

  it('leads even this machine there if a proxy passes on what others sent', async () => {
    expect((await ask('http', '/api/state', { headers: { host: 'localhost' } })).status).toBe(200);
    const forwarded = { host: 'localhost', 'x-forwarded-for': '192.0.2.7', 'x-forwarded-proto': 'https' };
    expect((await ask('http', '/api/state', { headers: forwarded })).status).toBe(308);
  });

  it('speaks no version of TLS before 1.2', async () => {
    const old = new Promise((resolve, reject) => {
      const options = { minVersion: 'TLSv1', maxVersion: 'TLSv1.1', ciphers: 'ALL:@SECLEVEL=0' } as const;
      const socket = connect({ port, host: '127.0.0.1', rejectUnauthorized: false, ...options }, () => resolve('open'));
      socket.on('error', reject);
    });
    await expect(old).rejects.toThrow(/alert protocol version/i);
  });

  it('uses new files without closing what is open', async () => {
    expect(await shownCertificate()).toBe(first.cert);
    const cookie = { authorization: `Bearer ${await newToken()}` };
    const feed = new WebSocket(`wss://localhost:${port}/live`, { ca: first.cert, headers: cookie });
    let frames = 0;
    feed.on('message', () => frames++);
    await until(
      () => frames,
      (count) => count > 0,
      'the live feed',
    );
    copyFileSync(second.certFile, certFile);
    copyFileSync(second.keyFile, keyFile);
    await until(shownCertificate, (shown) => shown === second.cert, 'the new certificate');
    const before = frames;
    await until(
      () => frames,
      (count) => count > before,
      'the live feed goes on',
    );
    expect(feed.readyState).toBe(WebSocket.OPEN);
    feed.terminate();
  });

  it('survives what is neither HTTP nor TLS', async () => {
    for (const bytes of [
      Buffer.from([22, 3, 1, 0, 5, 1, 2, 3, 4, 5]),
      Buffer.from([0, 1, 2, 3]),
      Buffer.from('X\r\n\r\n'),
    ]) {
      const closed = new Promise<void>((resolve) => {
        const socket = connectTcp(port, '127.0.0.1', () => socket.write(bytes));
        socket.on('error', () => {});
        socket.on('data', () => {});
        socket.on('close', () => resolve());
      });
      await closed;
    }
    expect((await ask('https', '/health')).status).toBe(200);
  });

  it('stops although a connection has said nothing yet', async () => {
    const https = { kind: 'files', certFile: first.certFile, keyFile: first.keyFile } as const;
    const other = await startTestService('simulator:steady', {}, undefined, null, { https });
    const silent = connectTcp(Number(new URL(other.address).port), '127.0.0.1');
    silent.on('error', () => {});
    await new Promise((resolve) => silent.once('connect', resolve));
    // Once this is answered, the service has accepted the silent connection too.
    await other.send('GET', '/health');
    const closed = new Promise((resolve) => silent.once('close', resolve));
    await other.stop();
    await closed;
  });

  async function newToken(): Promise<string> {
    const added = await service.send('POST', '/api/tokens', { name: 'listener', right: 'watch' });
    return (added.body as { token: string }).token;
  }
});
