/** What a removed device has under way is cut off at once: a download, an upload. */
import { randomBytes } from 'node:crypto';
import { readdirSync } from 'node:fs';
import { type ClientRequest, type IncomingMessage, request } from 'node:http';
import { dirname } from 'node:path';
import { gzipSync } from 'node:zlib';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { ARCHIVE_TYPE } from '../../server/api/contract/record.ts';
import { OpenAnswers } from '../../server/api/open-answers.ts';
import { MUTE, startTestService, type TestService } from '../api/test-service.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { until } from '../service/running-service.ts';
import { randomOf } from '../store/readings.ts';
import { hostOf } from './other-device.ts';

const READINGS = 120_000;
let service: TestService;
beforeAll(async () => {
  service = await startTestService(MUTE);
  recordRun();
});
afterAll(() => service.stop());

/** An ended run whose readings do not pack, so that its file is larger than what sockets hold. */
function recordRun(): void {
  const { writer, samples } = service.store;
  const startedMs = 1_750_000_000_000;
  const { id } = writer.beginRun({ startedMs, timeZone: 'UTC', sourceTitle: 'noise' });
  const random = randomOf(9);
  const signals = ['d', 'a', 'b', 'c'].map((name) => ({ name, role: null, unit: '' }));
  const none = { diameter: 0, diameterX: -1, diameterY: -1, speed: -1, lengthCounter: -1, screwSpeed: -1, turns: -1 };
  for (let i = 0; i < READINGS; i++) {
    const values = [1.75, random(), random(), random()];
    const layout = { signals, ...none, zones: [] };
    samples.append(id, { timeMs: startedMs + i * 20, layout, values, lostBefore: 0, restarted: false }, i);
    if (i % 50_000 === 0) samples.flush();
  }
  samples.flush();
  writer.endRun(id, startedMs + READINGS * 20);
}

async function newToken(name: string, right: string) {
  const added = await service.send('POST', '/api/tokens', { name, right });
  const { token, program } = added.body as { token: string; program: { id: number } };
  return { id: program.id, headers: { host: hostOf(service), authorization: `Bearer ${token}` } };
}

const optionsOf = (method: string, path: string, headers: Record<string, string>) => {
  const { hostname, port } = new URL(service.address);
  return { hostname, port, method, path, headers };
};

/** Starts a download and reads only its beginning. */
const startedDownload = (headers: Record<string, string>) =>
  new Promise<IncomingMessage>((resolve, reject) => {
    const asked = request(optionsOf('GET', '/api/runs/1/export?format=csv', headers), (reply) => {
      reply.once('data', () => {
        reply.pause();
        resolve(reply);
      });
    });
    asked.on('error', reject);
    asked.end();
  });

/** What becomes of the rest: the error, or the number of bytes. */
const restOf = (reply: IncomingMessage) =>
  new Promise<string>((resolve) => {
    let bytes = 0;
    reply.on('data', (chunk: Buffer) => {
      bytes += chunk.length;
    });
    reply.on('error', ({ message }) => resolve(message));
    reply.on('end', () => resolve(`${bytes} bytes`));
    reply.resume();
  });

/** Starts an upload that does not end. `why` is the reason why it failed. */
async function startedUpload(headers: Record<string, string>): Promise<{ readonly why: Promise<string> }> {
  const folder = dirname(service.store.maintenance.scratchPath());
  const underWay = () => readdirSync(folder).filter((name) => name.startsWith('under-way')).length;
  const before = underWay();
  const type = { 'content-type': ARCHIVE_TYPE, 'content-length': '1000000' };
  const upload: ClientRequest = request(optionsOf('POST', '/api/runs/import', { ...headers, ...type }));
  const why = new Promise<string>((resolve) => upload.once('error', ({ message }) => resolve(message)));
  // The beginning of an archive: anything else would be refused before its end.
  upload.write(gzipSync(randomBytes(1_000_000)).subarray(0, 10_000));
  await until(underWay, (count) => count > before, 'the upload has begun');
  return { why };
}

describe('removing a token', () => {
  it.skipIf(!IS_LONG_CHECK)('cuts off its download, and no other', async () => {
    const leaving = await newToken('leaving', 'watch');
    const staying = await newToken('staying', 'watch');
    const cut = await startedDownload(leaving.headers);
    const whole = await startedDownload(staying.headers);
    expect((await service.send('DELETE', `/api/tokens/${leaving.id}`)).status).toBe(204);
    expect(await restOf(cut)).toBe('aborted');
    expect(Number.parseInt(await restOf(whole), 10)).toBeGreaterThan(READINGS * 40);
  });

  it('cuts off its upload', async () => {
    const { id, headers } = await newToken('uploading', 'manage');
    const upload = await startedUpload(headers);
    await service.send('DELETE', `/api/tokens/${id}`);
    expect(await upload.why).toMatch(/ECONNRESET|hang up/);
  });
});

describe('changing a right', () => {
  it('cuts off what is not allowed any more, and nothing else', async () => {
    const { id, headers } = await newToken('changing', 'act');
    const download = await startedDownload(headers);
    await service.send('PUT', `/api/tokens/${id}`, { right: 'manage' });
    const upload = await startedUpload(headers);
    await service.send('PUT', `/api/tokens/${id}`, { right: 'watch' });
    expect(await upload.why).toMatch(/ECONNRESET|hang up/);
    expect(await restOf(download)).toMatch(/bytes$/);
  });
});

it('remembers only what is still open', () => {
  const answers = new OpenAnswers();
  const listeners: (() => void)[] = [];
  let destroyed = 0;
  const answer = { once: (_: string, done: () => void) => listeners.push(done), destroy: () => destroyed++ };
  answers.add(1, answer as never, 'act');
  answers.cut(2, null);
  answers.cut(1, 'act');
  expect(destroyed).toBe(0);
  answers.cut(1, 'watch');
  expect(destroyed).toBe(1);
  for (const done of listeners) done();
  answers.cut(1, null);
  expect(destroyed).toBe(1);
});
