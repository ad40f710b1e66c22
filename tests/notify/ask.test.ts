/** Requests to outside services: redirects, endless answers, and what is said if no one answers. */
import { createServer, type RequestListener, type Server } from 'node:http';
import { createServer as createSocketServer } from 'node:net';
import { afterEach, expect, test } from 'vitest';
import { ask, askFollowing } from '../../server/notify/ask.ts';
import { asNetworkFailure } from '../../server/notify/network-errors.ts';

let server: Server | undefined;
afterEach(() => {
  server?.closeAllConnections();
  server?.close();
});

async function listening(answer: RequestListener): Promise<URL> {
  const one = createServer(answer);
  server = one;
  await new Promise<void>((resolve) => one.listen(0, '127.0.0.1', resolve));
  return new URL(`http://127.0.0.1:${(one.address() as { port: number }).port}/`);
}

const get = (signal = new AbortController().signal) => ({ method: 'GET', headers: {}, signal }) as const;

test('follows redirects, also relative ones, but not for ever', async () => {
  const paths: string[] = [];
  const url = await listening(({ url: path = '' }, response) => {
    paths.push(path);
    const location = path === '/first' ? '../second' : path === '/loop' ? '/loop' : null;
    response.writeHead(location === null ? 204 : 302, location === null ? {} : { location }).end();
  });
  expect(await ask(new URL('/first', url), get())).toMatchObject({ status: 302, headers: { location: '../second' } });
  expect(await askFollowing(new URL('/first', url), get())).toMatchObject({ status: 204 });
  expect(paths).toStrictEqual(['/first', '/first', '/second']);
  expect(await askFollowing(new URL('/loop', url), get())).toMatchObject({ status: 302 });
  expect(paths.filter((path) => path === '/loop')).toHaveLength(6);
});

test('sends a body with its length, over a connection that is closed afterwards', async () => {
  const bodies: string[] = [];
  const url = await listening((request, response) => {
    expect(request.headers).toMatchObject({ 'content-length': '7', connection: 'close' });
    request.on('data', (chunk) => bodies.push(String(chunk)));
    request.on('end', () => response.writeHead(200).end('thanks'));
  });
  expect(await ask(url, { ...get(), method: 'POST', body: 'Größe' })).toMatchObject({ status: 200 });
  expect(bodies).toStrictEqual(['Größe']);
});

test('an answer without end is cut off once its head is known', async () => {
  let closed: () => void;
  const wasClosed = new Promise<void>((resolve) => {
    closed = resolve;
  });
  const url = await listening((_, response) => {
    const more = setInterval(() => response.write('x'.repeat(20_000)), 1);
    response.on('close', () => {
      clearInterval(more);
      closed();
    });
  });
  expect(await ask(url, get())).toMatchObject({ status: 200 });
  await wasClosed;
});

test('throws what the system says if no one listens, and ends when it is told to', async () => {
  await expect(ask(new URL('http://127.0.0.1:9/'), get())).rejects.toMatchObject({ code: 'ECONNREFUSED' });
  const url = await listening(() => {});
  const abort = new AbortController();
  const asked = ask(url, get(abort.signal));
  abort.abort();
  await expect(asked).rejects.toMatchObject({ name: 'AbortError' });
});

test('a receiver that speaks no HTTP is described in plain words', async () => {
  const strange = createSocketServer((socket) => socket.once('data', () => socket.end('lorem ipsum\r\n')));
  await new Promise<void>((resolve) => strange.listen(0, '127.0.0.1', resolve));
  const url = new URL(`http://127.0.0.1:${(strange.address() as { port: number }).port}/`);
  const { signal } = new AbortController();
  const thrown = await ask(url, get()).catch((error: unknown) => error);
  strange.close();
  expect(asNetworkFailure(thrown, 'hook.example', signal).message).toBe(
    'hook.example does not answer as a web server does.',
  );
  expect(asNetworkFailure(new Error('connack timeout'), 'the broker', signal).message).toBe(
    'The broker does not answer.',
  );
  const unknown = Object.assign(new Error('getaddrinfo ENOTFOUND h'), { code: 'ENOTFOUND' });
  expect(asNetworkFailure(unknown, 'the broker h:0', signal)).toMatchObject({
    message: 'The broker h:0 cannot be found.',
    remedy: 'Is its name spelled right, and is this machine on the network?',
  });
});
