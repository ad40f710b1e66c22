/** Behind a reverse proxy that adds HTTPS, here a small one of our own: what its headers change, and what they never open. */
import { request as requestHttp } from 'node:http';
import { createServer, request as requestHttps, type Server } from 'node:https';
import { connect } from 'node:net';
import { text } from 'node:stream/consumers';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { startTestService, type TestService } from '../api/test-service.ts';
import { type Certificate, makeCertificate } from '../notify/certificate.ts';

const NAME = 'line.example';
let certificate: Certificate;
beforeAll(() => {
  certificate = makeCertificate();
});
afterAll(() => certificate.remove());

interface Reply {
  readonly status: number;
  // biome-ignore lint/suspicious/noExplicitAny: what came is what the test examines
  readonly body: any;
  readonly cookie: string;
}

/** A proxy as people set one up: HTTPS outside, HTTP inside, `Host` unchanged, the address of the client appended. */
async function proxyTo(service: TestService, clientAddress: string): Promise<Server> {
  const { port } = new URL(service.address);
  const proxy = createServer({ key: certificate.key, cert: certificate.cert }, (asked, reply) => {
    const before = asked.headers['x-forwarded-for'];
    const headers = {
      ...asked.headers,
      'x-forwarded-for': [...(before === undefined ? [] : [before]), clientAddress].join(', '),
      'x-forwarded-proto': 'https',
    };
    const passed = requestHttp({ host: '127.0.0.1', port, path: asked.url, method: asked.method, headers }, (inner) => {
      reply.writeHead(inner.statusCode ?? 0, inner.headers);
      inner.pipe(reply);
    });
    asked.pipe(passed);
  }).listen(0, '127.0.0.1');
  await new Promise((resolve) => proxy.once('listening', resolve));
  return proxy;
}

function askBy(
  proxy: Server,
  method: string,
  path: string,
  headers: Readonly<Record<string, string>> = {},
  body?: object,
): Promise<Reply> {
  return new Promise((resolve, reject) => {
    const { port } = proxy.address() as { port: number };
    const json = body === undefined ? {} : { 'content-type': 'application/json' };
    const sent = { host: NAME, ...json, ...headers };
    const options = { host: '127.0.0.1', port, path, method, headers: sent, ca: certificate.cert };
    const asked = requestHttps({ ...options, servername: 'localhost' }, (reply) => {
      let text = '';
      reply.on('data', (chunk) => {
        text += chunk;
      });
      reply.on('end', () => {
        const cookie = reply.headers['set-cookie']?.[0] ?? '';
        resolve({ status: reply.statusCode ?? 0, body: text === '' ? null : JSON.parse(text), cookie });
      });
    });
    asked.on('error', reject);
    asked.end(body === undefined ? undefined : JSON.stringify(body));
  });
}

const codeOf = async (service: TestService, right: string) =>
  ((await service.send('POST', '/api/invitations', { right })).body as { code: string }).code;

describe.each([
  ['named as trusted', ['127.0.0.1']],
  ['not named', []],
  ['that is not the one that was named', ['192.0.2.1', '10.0.0.0/8']],
])('a proxy on this machine %s', (_what, trustedProxies) => {
  let service: TestService;
  let proxy: Server;
  const trusted = trustedProxies.includes('127.0.0.1');
  beforeAll(async () => {
    service = await startTestService('simulator:steady', {}, undefined, null, { trustedProxies });
    proxy = await proxyTo(service, '203.0.113.7');
  });
  afterAll(async () => {
    proxy.close();
    await service.stop();
  });

  it.each([
    ['as it is', {}],
    ['with the Host of this machine', { host: 'localhost' }],
    ['that claims to come from this machine', { host: 'localhost', 'x-forwarded-for': '127.0.0.1' }],
    ['that claims it in other headers', { host: '127.0.0.1', forwarded: 'for=127.0.0.1', 'x-real-ip': '::1' }],
    ['that claims to be another host', { host: 'localhost', 'x-forwarded-host': 'localhost' }],
  ])('passes on no request without a cookie: %s', async (_how, headers) => {
    for (const path of ['/api/state', '/api/devices'])
      expect(await askBy(proxy, 'GET', path, headers)).toMatchObject({ status: 401, body: { code: 'not-paired' } });
  });

  it.each([
    ['of HTTP/1.0, as some proxies send', 'HTTP/1.0', ''],
    ['with an address in another header', 'HTTP/1.1', 'X-Original-Forwarded-For: 198.51.100.7'],
    ['with an address in a third', 'HTTP/1.1', 'X-Cluster-Client-IP: 198.51.100.7'],
    ['with the name of another host', 'HTTP/1.1', 'X-Original-Host: line.example'],
    ['with an address in a header spelt with underscores', 'HTTP/1.1', 'X_Forwarded_For: 198.51.100.7'],
    ['with the address that connected', 'HTTP/1.1', 'X-Remote-Addr: 198.51.100.7'],
    ['with the address of a client', 'HTTP/1.1', 'X-Client-Address: 198.51.100.7'],
    ['with the address of its user', 'HTTP/1.1', 'X-ProxyUser-IP: 198.51.100.7'],
    ['with the user whom it let in', 'HTTP/1.1', 'Remote-User: ada'],
  ])('does not take a request %s for one of this machine', async (_how, version, header) => {
    const { port } = new URL(service.address);
    const lines = [
      `GET /api/me ${version}`,
      `Host: 127.0.0.1:${port}`,
      'Connection: close',
      ...(header ? [header] : []),
    ];
    const socket = connect(Number(port), '127.0.0.1');
    socket.write(`${lines.join('\r\n')}\r\n\r\n`);
    expect(await text(socket)).toMatch(/^HTTP\/1\.1 401 /);
  });

  it('gives the paired browser a cookie for HTTPS only, also when it is renewed', async () => {
    const origin = { origin: `https://${NAME}` };
    const code = await codeOf(service, 'manage');
    const { status, cookie } = await askBy(proxy, 'POST', '/api/devices', origin, { name: 'phone', code });
    expect(status).toBe(201);
    expect(cookie).toMatch(/^__Host-strandward=[\w-]{43}; Path=\/; .*HttpOnly; SameSite=Strict; Secure$/);
    const session = { ...origin, cookie: cookie.split(';')[0] ?? '' };
    const renewed = await askBy(proxy, 'GET', '/api/me', { cookie: session.cookie });
    expect(renewed).toMatchObject({ status: 200, body: { right: 'manage' } });
    expect(renewed.cookie).toBe(cookie);
    // The page of another site at the same proxy.
    const foreign = await askBy(proxy, 'POST', '/api/stage', { ...session, origin: 'https://other.example' }, {});
    expect(foreign).toMatchObject({ status: 403, body: { code: 'access-denied' } });
  });

  it(`gives a program without Origin a cookie ${trusted ? 'for HTTPS only' : 'that says nothing of HTTPS'}`, async () => {
    const code = await codeOf(service, 'watch');
    const { cookie } = await askBy(proxy, 'POST', '/api/devices', {}, { name: 'script', code });
    expect(/; Secure$/.test(cookie)).toBe(trusted);
  });

  // Last: afterwards the address has to wait.
  it('does not let a guesser change its address with a header', async () => {
    const guess = (n: number) =>
      askBy(proxy, 'GET', '/api/state', { authorization: `Bearer guess-${n}`, 'x-forwarded-for': `198.51.100.${n}` });
    const tried: number[] = [];
    for (let n = 0; n < 5; n++) tried.push((await guess(n)).status);
    expect(tried).toEqual([401, 401, 401, 429, 429]);
    // Only if the proxy is trusted, other devices need not wait because of this one.
    const other = await proxyTo(service, '203.0.113.8');
    const { status } = await askBy(other, 'GET', '/api/state', { authorization: 'Bearer one' });
    expect(status).toBe(trusted ? 401 : 429);
    other.close();
  });
});
