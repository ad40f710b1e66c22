/** The authority of the house: what it vouches for, its file, and what the service serves of it. */
import { execFileSync } from 'node:child_process';
import { X509Certificate } from 'node:crypto';
import { chmodSync, mkdtempSync, readdirSync, readFileSync, rmSync, statSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connect, createServer } from 'node:tls';
import { afterEach, beforeEach, describe, expect, it } from 'vitest';
import { HouseAuthority } from '../../server/certificate/house-authority.ts';
import { HouseCertificate } from '../../server/certificate/house-certificate.ts';
import { isHouseName, namesOfThisMachine, statedNames } from '../../server/certificate/house-names.ts';
import { startTestService } from '../api/test-service.ts';

let folder: string;
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), 'strandward-authority-'));
});
afterEach(() => rmSync(folder, { recursive: true }));

const DAY_MS = 86_400_000;
const fileIn = (of: string) => join(of, 'house-authority.pem');

/** What OpenSSL says of a certificate for a name; 'OK' = it accepts it. */
function opensslOn(authority: HouseAuthority, names: readonly string[], asked = names[0] ?? ''): string {
  const { cert } = authority.issue(names, Date.now() - DAY_MS, Date.now() + DAY_MS);
  writeFileSync(join(folder, 'ca.crt'), authority.pem);
  writeFileSync(join(folder, 'leaf.crt'), cert);
  const about = /^[\d.]+$|:/.test(asked) ? ['-verify_ip', asked] : ['-verify_hostname', asked];
  const args = ['verify', '-x509_strict', '-purpose', 'sslserver', ...about, '-CAfile', 'ca.crt', 'leaf.crt'];
  try {
    return execFileSync('openssl', args, { cwd: folder, encoding: 'utf8', stdio: 'pipe' }).trim().replace(/^.*: /, '');
  } catch (thrown) {
    return String((thrown as { stderr: string }).stderr);
  }
}

describe('by the judgement of OpenSSL, the authority', () => {
  it.each([
    'line.local',
    'line.lan',
    'line.home.arpa',
    'localhost',
    '192.168.1.20',
    '10.9.8.7',
    '172.31.0.1',
    '127.0.0.1',
    '169.254.1.1',
    'fd00::1',
    'fe80::1',
    '::1',
  ])('vouches for %s', (name) => {
    expect(opensslOn(HouseAuthority.in(folder), [name])).toBe('OK');
  });

  it.each([
    'example.com',
    'local.example.com',
    'notlocal',
    '192.0.2.7',
    '172.32.0.1',
    '11.0.0.1',
    '2001:db8::1',
    '::2',
  ])('cannot vouch for %s, although it signed the name', (name) => {
    expect(opensslOn(HouseAuthority.in(folder), [name])).toMatch(/permitted subtree violation/);
    // Nor beside a name that is permitted.
    expect(opensslOn(HouseAuthority.in(folder), ['line.local', name], 'line.local')).toMatch(/permitted subtree/);
  });

  it('signs no other authority', () => {
    const certificate = new X509Certificate(HouseAuthority.in(folder).pem);
    const text = execFileSync('openssl', ['x509', '-noout', '-text'], {
      input: certificate.toString(),
      encoding: 'utf8',
    });
    expect(text).toMatch(/Basic Constraints: critical\s+CA:TRUE, pathlen:0/);
    expect(text).toMatch(/Key Usage: critical\s+Certificate Sign\s/);
    expect(text).toMatch(/Name Constraints: critical\s+Permitted:/);
    expect(text).toMatch(/Signature Algorithm: ecdsa-with-SHA256/);
    expect(text).toMatch(/Not After : Jan +1 00:00:00 2055/);
  });
});

describe('names', () => {
  it('of a house are told from public ones as in the certificate', () => {
    const inHouse = ['localhost', 'a.b.local', '192.168.0.1', 'fdff::1', '::1', '169.254.0.9'];
    const outside = ['local.com', 'xlocal', 'example.com', '8.8.8.8', '2001:db8::1', ''];
    expect(inHouse.filter((name) => !isHouseName(name))).toStrictEqual([]);
    expect(outside.filter(isHouseName)).toStrictEqual([]);
  });

  it('of this machine include the loopback ones, and those that users stated', () => {
    expect(namesOfThisMachine()).toEqual(expect.arrayContaining(['localhost', '127.0.0.1', '::1']));
    expect(statedNames('0.0.0.0', '')).toStrictEqual([]);
    expect(statedNames('10.0.0.2', 'https://[fd00::2]:8750')).toStrictEqual(['10.0.0.2', 'fd00::2']);
  });
});

describe('its file', () => {
  it('is for its user only, also after it was copied carelessly', () => {
    HouseAuthority.in(folder);
    expect(statSync(fileIn(folder)).mode & 0o777).toBe(0o600);
    chmodSync(fileIn(folder), 0o644);
    HouseAuthority.in(folder);
    expect(statSync(fileIn(folder)).mode & 0o777).toBe(0o600);
    const made = join(folder, 'made');
    HouseAuthority.in(made);
    expect(statSync(made).mode & 0o777).toBe(0o700);
  });

  it('is shared by the lines of a house: the second uses what the first made, and leaves nothing behind', () => {
    const first = HouseAuthority.in(folder);
    const second = HouseAuthority.in(folder);
    expect(second.fingerprint).toBe(first.fingerprint);
    expect(first.fingerprint).toMatch(/^(?:[\dA-F]{2}:){31}[\dA-F]{2}$/);
    expect(readdirSync(folder)).toStrictEqual(['house-authority.pem']);
  });

  it('that is damaged, or of no authority, is refused and kept', () => {
    const authority = HouseAuthority.in(folder);
    const leaf = authority.issue(['line.local'], Date.now(), Date.now() + DAY_MS);
    for (const text of ['', 'no PEM', `${leaf.key}${leaf.cert}`, `${leaf.key}${authority.pem}`]) {
      writeFileSync(fileIn(folder), text);
      expect(() => HouseAuthority.in(folder)).toThrow(/cannot be used/);
      expect(readFileSync(fileIn(folder), 'utf8')).toBe(text);
    }
  });
});

describe('the certificate of the service', () => {
  let nowMs = Date.now();
  let stated: string[] = [];
  const warnings: unknown[] = [];
  beforeEach(() => {
    nowMs = Date.now();
    stated = [];
  });
  const made = () =>
    new HouseCertificate({
      authority: HouseAuthority.in(folder),
      clock: () => nowMs,
      statedNames: () => stated,
      info: () => {},
      warn: (_, { name }) => void warnings.push(name),
    });

  it('is renewed before it expires, when a name is new, and when the clock is set', () => {
    const certificate = made();
    const used: string[] = [];
    certificate.onChange(({ cert }) => used.push(cert));
    const untilMs = () => Date.parse(new X509Certificate(certificate.current().cert).validTo);
    certificate.renewIfNeeded();
    nowMs += 59 * DAY_MS;
    certificate.renewIfNeeded();
    expect(used).toHaveLength(0);
    nowMs = untilMs() - 29 * DAY_MS;
    certificate.renewIfNeeded();
    expect(used).toHaveLength(1);
    expect(untilMs()).toBeGreaterThan(nowMs + 89 * DAY_MS);
    stated = ['line.home.arpa', 'public.example.com'];
    certificate.renewIfNeeded();
    certificate.renewIfNeeded();
    expect(used).toHaveLength(2);
    const names = new X509Certificate(used[1] ?? '').subjectAltName ?? '';
    expect(names).toContain('DNS:line.home.arpa');
    expect(names).not.toContain('public');
    // Once, beside those of this machine.
    expect(warnings.filter((name) => name === 'public.example.com')).toHaveLength(1);
    expect(warnings.filter((name) => isHouseName(String(name)))).toEqual([]);
    nowMs -= 365 * DAY_MS;
    certificate.renewIfNeeded();
    expect(used).toHaveLength(3);
    expect(untilMs()).toBeLessThan(nowMs + 91 * DAY_MS);
    certificate.stop();
  });

  it('is accepted by TLS with the authority, by name and by address, and by nothing else', async () => {
    const certificate = made();
    const server = createServer(certificate.current()).listen(0, '127.0.0.1');
    await new Promise((resolve) => server.once('listening', resolve));
    const { port } = server.address() as { port: number };
    const open = (options: object) =>
      new Promise<string>((resolve) => {
        const socket = connect({ port, host: '127.0.0.1', ...options }, () => {
          resolve('accepted');
          socket.destroy();
        });
        socket.on('error', ({ message }) => resolve(message));
      });
    const ca = certificate.authority.pem;
    expect(await open({ ca, servername: 'localhost' })).toBe('accepted');
    expect(await open({ ca })).toBe('accepted');
    expect(await open({ ca, servername: 'example.com' })).toMatch(/does not match certificate's altnames/);
    expect(await open({})).toMatch(/unable to (?:verify|get)/);
    certificate.stop();
    server.close();
  });
});

describe('a service with the authority of the house', () => {
  /** As a device that has no certificate yet. */
  const ask = (port: number, path: string) =>
    new Promise<{ status: number; type: string; location: string; text: string }>((resolve, reject) => {
      const headers = { host: `line.local:${port}` };
      request({ host: '127.0.0.1', port, path, headers }, (reply) => {
        let text = '';
        reply.on('data', (chunk) => {
          text += chunk;
        });
        reply.on('end', () => {
          const { location = '', 'content-type': type = '' } = reply.headers;
          resolve({ status: reply.statusCode ?? 0, type, location, text });
        });
      })
        .on('error', reject)
        .end();
    });

  it('serves the certificate and its page by HTTP, without a secret, and nothing else', async () => {
    writeFileSync(join(folder, 'index.html'), '<p>page</p>');
    const https = { kind: 'own-ca', folder: join(folder, 'authority') } as const;
    const service = await startTestService('simulator:steady', {}, folder, null, { https });
    try {
      const port = Number(new URL(service.address).port);
      const { fingerprint, file } = JSON.parse((await ask(port, '/api/certificate')).text);
      const download = await ask(port, file);
      expect(download).toMatchObject({ status: 200, type: 'application/x-x509-ca-cert' });
      expect(download.text).not.toContain('PRIVATE');
      expect(new X509Certificate(download.text).fingerprint256).toBe(fingerprint);
      for (const path of ['/certificate', '/certificate/'])
        expect(await ask(port, path), path).toMatchObject({ status: 200, text: '<p>page</p>' });
      for (const path of [
        '/',
        '/pair',
        '/api/state',
        '/api/me',
        '/openapi.json',
        '/certificate/../api/state',
        '/authority/house-authority.pem',
      ])
        expect((await ask(port, path)).location, path).toBe(`https://line.local:${port}${path}`);
    } finally {
      await service.stop();
    }
  });

  it('has no certificate to install without one', async () => {
    const service = await startTestService('simulator:steady');
    expect(await service.send('GET', '/api/certificate')).toMatchObject({ status: 404, body: { code: 'not-found' } });
    await service.stop();
  });
});
