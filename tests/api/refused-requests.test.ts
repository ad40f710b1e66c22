/** What the web server refuses before any route: a status that a program can act on, and a sentence that a person understands. */
import { connect } from 'node:net';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import type { ProblemView } from '../../server/api/contract/problem.ts';
import { startTestService, type TestService } from './test-service.ts';

let service: TestService;
beforeAll(async () => {
  service = await startTestService('simulator:steady');
});
afterAll(() => service.stop());

async function refused(method: string, path: string, type: string | null, body?: string) {
  const headers: Record<string, string> = type === null ? {} : { 'content-type': type };
  const reply = await fetch(service.address + path, { method, headers, ...(body === undefined ? {} : { body }) });
  expect(reply.headers.get('content-type')).toBe('application/problem+json; charset=utf-8');
  const problem = (await reply.json()) as ProblemView;
  expect(problem.status).toBe(reply.status);
  return { problem, allow: reply.headers.get('allow') };
}

/** What a connection receives until the service closes it. */
async function answered(sent: string): Promise<string> {
  const socket = connect(Number(new URL(service.address).port), '127.0.0.1');
  let text = '';
  socket.setEncoding('utf8');
  socket.on('data', (chunk) => {
    text += chunk;
  });
  socket.write(sent);
  await new Promise((resolve) => socket.once('close', resolve));
  return text;
}

describe('a body', () => {
  it.each<[string, string, string, number, string, RegExp, RegExp]>([
    ['that is empty', 'application/json', '', 400, 'bad-request', /^The body is empty\.$/, /openapi/],
    ['that is not JSON', 'application/json', '{nope', 400, 'bad-request', /^The body is not valid JSON\.$/, /quotes/],
    [
      'that is too large',
      'application/json',
      `"${'a'.repeat(300_000)}"`,
      413,
      'bad-request',
      /too large/,
      /at most 262 kB/,
    ],
    [
      'of text',
      'text/plain',
      '{}',
      415,
      'wrong-type',
      /does not accept a body of the type “text\/plain”\.$/,
      /as application\/json\.$/,
    ],
    ['of a form', 'application/x-www-form-urlencoded', 'a=1', 415, 'wrong-type', /not accept .*urlencoded”/, /json\.$/],
    [
      'of an archive',
      'application/vnd.strandward.run',
      '{}',
      415,
      'wrong-type',
      /not accept .*strandward.run”/,
      /json\.$/,
    ],
  ])('%s', async (_what, type, body, status, code, title, detail) => {
    const { problem } = await refused('POST', '/api/printers', type, body);
    const { title: says, detail: advises } = problem;
    expect(problem).toMatchObject({ status, code });
    expect(says).toMatch(title);
    expect(advises).toMatch(detail);
  });

  const list = '['.repeat(100_000) + ']'.repeat(100_000);
  const object = `${'{"a":'.repeat(40_000)}1${'}'.repeat(40_000)}`;
  it.each<[string, string, string, (deep: string) => string]>([
    ['alone', 'POST', '/api/printers', (deep) => deep],
    ['that ends too early', 'POST', '/api/printers', (deep) => deep.slice(0, -1)],
    ['in a text', 'PUT', '/api/runs/1/note', (deep) => `{"note":${deep}}`],
    [
      'in a form of several',
      'POST',
      '/api/channels',
      (deep) => `{"name":"x","settings":{"kind":"webhook","url":${deep}}}`,
    ],
    ['in settings', 'PUT', '/api/settings', (deep) => `{"gears":${deep}}`],
    ['in a list of different entries', 'PUT', '/api/settings', (deep) => `{"pointedAt":[${deep}]}`],
    ['in material', 'PUT', '/api/runs/1/lot', (deep) => `{"name":"x","preparation":"","values":{"dry":${deep}}}`],
  ])('of thousands of levels %s is refused', async (_, method, path, body) => {
    for (const deep of [list, object])
      expect((await refused(method, path, 'application/json', body(deep))).problem.status).toBe(400);
  });

  it('of a log or archive is refused with the types that are taken there', async () => {
    expect((await refused('POST', '/api/runs/import', 'text/html', 'x')).problem).toMatchObject({
      status: 415,
      detail: 'Send it as application/vnd.strandward.run.',
    });
  });
});

describe('what a body says', () => {
  const put = (body: string | Uint8Array, headers: Record<string, string> = {}) =>
    fetch(`${service.address}/api/runs/1/note`, {
      method: 'PUT',
      headers: { 'content-type': 'application/json', ...headers },
      body: body as BodyInit,
    });
  const note = () => service.store.reader.run(1)!.note;
  beforeAll(async () => {
    const { writer } = service.store;
    writer.endRun(writer.beginRun({ startedMs: 1, timeZone: 'UTC', sourceTitle: 'x' }).id, 2);
    expect((await put('{"note": "as \u00fcsual"}')).ok).toBe(true);
  });

  it('replaces nothing if it is not UTF-8', async () => {
    const reply = await put(Buffer.from([...Buffer.from('{"note": "'), 0xff, 0xfe, ...Buffer.from('"}')]));
    expect([reply.status, await reply.json()]).toMatchObject([400, { title: 'The body is not UTF-8.' }]);
    expect(note()).toBe('as üsual');
  });

  it('may start with a byte order mark', async () => {
    expect((await put('\ufeff{"note": "as üsual"}')).status).toBe(200);
  });

  it.each(['{"__proto__": {"note": "x"}}', '{"note": "x", "constructor": {"prototype": {}}}'])(
    'says that the name of a field is refused: %s',
    async (body) => {
      const problem = await (await put(body)).json();
      expect(problem).toMatchObject({
        status: 400,
        title: expect.stringMatching(/field.*“__proto__” or “constructor/),
      });
      expect(note()).toBe('as üsual');
    },
  );

  // RFC 9110, 15.5.16.
  it.each(['gzip', 'deflate', 'br', 'identity, gzip'])('is taken in no encoding: %s', async (encoding) => {
    for (const body of ['{"note": "x"}', gzipSync('{"note": "x"}')]) {
      const reply = await put(body, { 'content-encoding': encoding });
      expect([reply.status, await reply.json()]).toMatchObject([415, { code: 'wrong-type' }]);
      expect(reply.headers.get('accept-encoding')).toBe('identity');
    }
    expect(note()).toBe('as üsual');
  });

  it('counts if its encoding is none', async () => {
    expect((await put('{"note": "as üsual"}', { 'content-encoding': 'Identity' })).status).toBe(200);
  });

  it.each([
    ['/api/nope', 404],
    ['/nope', 404],
    ['/api/state', 405],
  ])('does not matter where there is nothing: %s', async (path, status) => {
    const { problem } = await refused('POST', path, 'application/json', `"${'a'.repeat(2_000_000)}"`);
    expect(problem.status).toBe(status);
  });
});

describe('a method', () => {
  // RFC 9110, 15.5.6: 405 with the header Allow.
  it.each([
    ['POST', '/api/state', 'GET, HEAD'],
    ['DELETE', '/api/printers', 'GET, HEAD, POST'],
    ['GET', '/api/runs/1/restore', 'POST'],
  ])('%s %s is answered with those that exist', async (method, path, methods) => {
    const { problem, allow } = await refused(method, path, null);
    expect(problem).toMatchObject({ status: 405, code: 'wrong-method', title: `${path} does not take ${method}.` });
    expect(allow).toBe(methods);
  });
});

it('says plainly that an address cannot be decoded', async () => {
  expect((await refused('GET', '/api/runs/%E0%A4%A', null)).problem).toMatchObject({
    status: 400,
    title: 'The address cannot be decoded.',
  });
});

describe('a connection', () => {
  const HOST = 'Host: localhost\r\n';
  const UPGRADE = `${HOST}Upgrade: websocket\r\nConnection: Upgrade\r\n`;
  it.each([
    ['that sends no HTTP', 'GARBAGE\r\n\r\n', 400, /not a request that HTTP allows/],
    [
      'with headers without end',
      `GET / HTTP/1.1\r\n${HOST}X: ${'a'.repeat(20_000)}\r\n\r\n`,
      431,
      /headers are too large/,
    ],
    ['without a host', 'GET /api/state HTTP/1.1\r\n\r\n', 400, /names no host/],
    ['for two hosts', `GET /api/state HTTP/1.1\r\n${HOST}Host: line.example\r\n\r\n`, 400, /names several hosts/],
    [
      'for a WebSocket without a host',
      `GET /live HTTP/1.1\r\n${UPGRADE.replace(HOST, '')}\r\n`,
      400,
      /names no host|WebSocket/,
    ],
    ['that expects something unknown', `GET /api/state HTTP/1.1\r\n${HOST}Expect: tea\r\n\r\n`, 417, /header Expect/],
    ['for a WebSocket without a key', `GET /live HTTP/1.1\r\n${UPGRADE}\r\n`, 400, /WebSocket of version 13/],
    [
      'for a WebSocket where there is none',
      `GET /api/state HTTP/1.1\r\n${UPGRADE}Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n`,
      404,
      /no WebSocket at \/api\/state/,
    ],
    [
      'for a WebSocket where there is nothing',
      `GET /nope HTTP/1.1\r\n${UPGRADE}Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n`,
      404,
      /no WebSocket at \/nope/,
    ],
  ])('%s is answered with a problem, then closed', async (_what, sent, status, title) => {
    const [head = '', body = ''] = (await answered(sent)).split('\r\n\r\n');
    expect(head).toMatch(new RegExp(`^HTTP/1.1 ${status} .*content-type: application/problem\\+json`, 'is'));
    expect(JSON.parse(body)).toMatchObject({ status, title: expect.stringMatching(title) });
  });
});
