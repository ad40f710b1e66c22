import { createServer, type Server } from 'node:http';
import type { AddressInfo } from 'node:net';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';

// The page stores the user's name in the browser.
Object.assign(globalThis, { localStorage: { getItem: () => null, setItem: () => {} } });
const { personName } = await import('../../web/service/person.ts');
const { receiveFile } = await import('../../web/service/receive-file.ts');
const { isAbort, problemOf, request, ServiceProblem } = await import('../../web/service/request.ts');

const WHOLE = 'time,diameter\r\n'.repeat(1000);

/** Returns the caller's name at /who, sends half an answer at /half, a file at /file, half of it at /stuck, and never answers elsewhere. */
let server: Server;
let address: string;
beforeAll(async () => {
  server = createServer((asked, answer) => {
    if (asked.url === '/who') answer.end(JSON.stringify(asked.headers['strandward-by'] ?? null));
    if (asked.url === '/half') answer.write('{"half": ');
    if (asked.url === '/file' || asked.url === '/stuck') {
      answer.writeHead(200, {
        'content-disposition': 'attachment; filename="R1.csv"',
        'strandward-bytes-about': String(2 * WHOLE.length),
      });
      if (asked.url === '/file') answer.end(WHOLE);
      else answer.write(WHOLE);
    }
  });
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  address = `http://127.0.0.1:${(server.address() as AddressInfo).port}`;
});
afterAll(() => {
  server.closeAllConnections();
  server.close();
});

const thrownBy = (asked: Promise<unknown>) =>
  asked.then(
    () => null,
    (thrown: unknown) => thrown,
  );

describe('a request to a service that does not answer', () => {
  it.each(['/never', '/half'])('becomes a problem on timeout (%s)', async (path) => {
    const thrown = await thrownBy(request('GET', address + path, undefined, AbortSignal.timeout(50)));
    expect(thrown).toBeInstanceOf(ServiceProblem);
    expect((thrown as Error).message).toBe('The service does not answer.');
    expect(isAbort(thrown)).toBe(false);
  });

  it.each(['/never', '/half'])('is not a problem when the caller has aborted it (%s)', async (path) => {
    const gone = new AbortController();
    const asked = thrownBy(request('GET', address + path, undefined, gone.signal));
    setTimeout(() => gone.abort(), 50);
    expect(isAbort(await asked)).toBe(true);
  });
});

describe('a file that the service makes', () => {
  it('arrives whole, with its name, and says on the way how much of it is here', async () => {
    const seen: [number, number | null][] = [];
    const { name, file } = await receiveFile(
      `${address}/file`,
      (...now) => seen.push(now),
      new AbortController().signal,
    );
    expect([name, await file.text()]).toEqual(['R1.csv', WHOLE]);
    expect(seen.at(-1)).toEqual([WHOLE.length, 2 * WHOLE.length]);
  });

  it('stops coming when the user cancels it', async () => {
    const gone = new AbortController();
    const coming = thrownBy(receiveFile(`${address}/stuck`, () => gone.abort(), gone.signal));
    expect(isAbort(await coming)).toBe(true);
  });
});

describe('the name on this device', () => {
  it.each([
    ['', null],
    ['Zoë 🙂', 'Zo%C3%AB%20%F0%9F%99%82'],
    // Pasted, and cut in the middle of a character.
    [' Ada\t', 'Ada'],
    [`${'x'.repeat(59)}🙂`, 'x'.repeat(59)],
  ])('%j is sent with what changes something, and with nothing else', async (name, header) => {
    personName.value = name;
    expect(await request('POST', `${address}/who`)).toBe(header);
    expect(await request('GET', `${address}/who`)).toBe(null);
    personName.value = '';
  });
});

it("shows the service's problems unchanged", () => {
  const details = (title: string, detail: string) => JSON.stringify({ title, detail });
  expect(problemOf(409, details('A drill is under way.', 'Wait until it is over.'))).toMatchObject({
    message: 'A drill is under way.',
    detail: 'Wait until it is over.',
    code: null,
    pointer: null,
  });
  const pointed = { title: 'The tolerance is 0.', detail: 'Raise it.', code: 'bad-printer', pointer: '/toleranceMm' };
  expect(problemOf(400, JSON.stringify(pointed))).toMatchObject({ code: 'bad-printer', pointer: '/toleranceMm' });
  expect(problemOf(502, '<html>bad gateway</html>').message).toBe('The service answered with status 502.');
});
