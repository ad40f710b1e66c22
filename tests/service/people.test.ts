/** Notifications by the built service: what survives kill -9, what the API returns and what it keeps secret. */
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import type { AlarmView } from '../../server/api/contract/alarms.ts';
import type { QuestionView } from '../../server/api/contract/answers.ts';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { decodePng } from '../notify/decode-png.ts';
import { HttpReceiver } from '../notify/http-receiver.ts';
import { newDataFolder, type RunningService, startService, until } from './running-service.ts';
import { ScriptedBoard } from './scripted-board.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

let board: ScriptedBoard;
let receiver: HttpReceiver;
let service: RunningService;
const dataFolder = newDataFolder();
const start = () => startService({ source: board.source, dataFolder });
const people = () => service.get<PeopleView>('/api/people');
const must = async (method: string, path: string, body?: unknown, headers?: Record<string, string>) => {
  const reply = await service.send(method, path, body, headers);
  if (reply.status >= 300) throw new Error(`${method} ${path}: ${reply.status} ${JSON.stringify(reply.body)}`);
  return reply.body;
};
const hook = (more: object = {}) => ({
  name: 'Hook',
  settings: { kind: 'webhook', url: receiver.url, secret: 'the-signing-secret', template: '', ...more },
});
const ada = (channelId: number) => ({
  name: 'Ada',
  channelIds: [channelId],
  leastPriority: 'low',
  quiet: null,
  round: 1,
});

/** A separate blob; one that closely follows another is counted with it. */
async function blobOf(diameterMm: number): Promise<void> {
  const clearMm = board.lengthMm + 1000;
  await until(
    () => board.lengthMm,
    (mm) => mm > clearMm,
    'a metre of good strand',
    60_000,
  );
  board.stretch(12, diameterMm);
}

beforeAll(async () => {
  board = await new ScriptedBoard().start();
  receiver = await new HttpReceiver().start();
  service = await start();
});
afterAll(async () => {
  await service?.remove();
  await board?.stop();
  await receiver?.stop();
});

describe('people and channels', () => {
  let channelId: number;

  test('start empty, without any problem reported', async () => {
    expect(await people()).toMatchObject({ channels: [], contacts: [], drills: [], notificationProblems: [] });
  });

  test('accept a tested channel, and never return its secrets', async () => {
    expect((await service.send('POST', '/api/channels/test', { ...hook(), id: null })).status).toBe(204);
    expect(receiver.bodies[0].type).toBe('strandward.test');
    const added = await must('POST', '/api/channels', hook());
    channelId = added.id;
    await must('POST', '/api/people', ada(channelId));
    const shown = JSON.stringify([added, await people(), await service.get('/openapi.json'), service.output()]);
    expect(shown).not.toMatch(/t0psecret|the-signing-secret/);
    expect(added).toMatchObject({ destination: `127.0.0.1:${receiver.port}`, savedSecrets: ['url', 'secret'] });
    // Secrets left empty stay as they are.
    await must('PUT', `/api/channels/${channelId}`, { ...hook({ url: '', secret: '' }), name: 'Chat' });
    await must('POST', '/api/channels/test', { ...hook({ url: '', secret: '' }), id: channelId });
    expect(receiver.received[1]!.path).toBe('/hook/t0psecret');
    expect(receiver.received[1]!.headers['webhook-signature']).toMatch(/^v1,/);
  });

  test.each([
    [
      'a template that does not parse',
      () => hook({ template: '{"text": "{{what}}"}' }),
      422,
      /unknown placeholder “what”/,
    ],
    ['an address that is none', () => hook({ url: 'chat.example' }), 400, /address of the channel is not valid/],
    ['a name that is taken', () => ({ ...hook(), name: 'chat' }), 400, /already/],
  ])('refuses %s', async (_what, body, status, text) => {
    const reply = await service.send('POST', '/api/channels', body());
    expect([reply.status, reply.body.title]).toEqual([status, expect.stringMatching(text)]);
  });

  test('report a failed test at once', async () => {
    receiver.script.push({ status: 401 });
    const reply = await service.send('POST', '/api/channels/test', { ...hook({ url: '' }), id: channelId });
    expect([reply.status, reply.body.title]).toEqual([502, expect.stringMatching(/access is denied/)]);
    expect(reply.body.detail).toMatch(/token/);
    const [channel] = (await people()).channels;
    expect(channel).toMatchObject({ phase: 'failing' });
    await must('POST', '/api/channels/test', { ...hook({ url: '' }), id: channelId });
    expect((await people()).channels[0]).toMatchObject({ phase: 'working', text: '' });
  });
});

describe('the link of a message', () => {
  test.skipIf(!IS_LONG_CHECK)('acknowledges the blob that the message was about, and not a later one', async () => {
    await must('PUT', '/api/settings', { gaugeToWinderMm: 100, settleLengthMm: 100_000 });
    const { rules } = await people();
    await must('PUT', '/api/escalation-rules', {
      ...rules,
      pageAddress: 'https://line.example',
      heartbeatAddress: null,
    });
    await must('POST', '/api/stage', { stage: 'winding' });
    receiver.received.length = 0;
    const link = (nth: number) =>
      until(
        () => receiver.bodies.filter(({ type }) => type === 'strandward.raised').map(({ data }) => String(data.link)),
        (links) => links.length >= nth,
        `message ${nth}`,
        30_000,
      ).then((links) => `/api/answers/${links[nth - 1]!.split('/').at(-1)}`);
    const blobState = async () =>
      (await service.get<AlarmView[]>('/api/alarms')).find(({ type }) => type === 'blob')?.state;
    await blobOf(2.0);
    const first = await link(1);
    await must('POST', '/api/alarms/acknowledge-all', undefined, { 'strandward-by': 'Ben' });
    // The first alarm has returned or is acknowledged, so the second blob raises it again in either case.
    await blobOf(2.2);
    const second = await link(2);
    // Its readings may be a moment behind.
    const picture = await until(
      () => fetch(`${service.address}${second}/picture`),
      ({ status }) => status === 200,
      'the picture of it',
    );
    expect(picture.headers.get('content-type')).toBe('image/png');
    expect(decodePng(Buffer.from(await picture.arrayBuffer()))).toMatchObject({ width: 640, height: 260 });
    expect((await service.get<QuestionView>(second)).hasPicture).toBe(true);
    expect((await service.send('GET', `${second.replace(/t[\da-z]+-/, 't1-')}/picture`)).status).toBe(404);
    expect((await must('POST', first, { seenOccurrences: null })).state).toMatch(/raisedAgain|over/);
    expect(await blobState()).toMatch(/unacknowledged/i);
    expect(await must('POST', second, { seenOccurrences: null })).toMatchObject({
      state: 'answered',
      answeredBy: 'Ada',
    });
    expect((await service.send('GET', second.replace(/t[\da-z]+-/, 't1-'))).status).toBe(404);
  });
});

describe('kill -9 between an alarm and its message', () => {
  const ROUNDS = IS_LONG_CHECK ? 3 : 1;

  test.skipIf(!IS_LONG_CHECK)(`loses no message, at different moments (${ROUNDS})`, async () => {
    await must('PUT', '/api/settings', { gaugeToWinderMm: 100, settleLengthMm: 100_000 });
    const accepted: { id: number; text: string }[] = [];
    for (let round = 1; round <= ROUNDS; round++) {
      receiver.otherwise = { status: 503 };
      receiver.received.length = 0;
      const raisedBlobs = () => service.output().match(/Alarm (raised|again): \S*\s?[Bb]lob/g)?.length ?? 0;
      // A service killed early has no run to continue, so the run may be a new one.
      await must('POST', '/api/stage', { stage: 'winding' });
      const before = raisedBlobs();
      await blobOf(2.0 + round / 100);
      // The journal is written, then this line, then the message.
      await vi.waitUntil(() => raisedBlobs() > before, { timeout: 30_000, interval: 1 });
      await new Promise((resolve) => setTimeout(resolve, (round - 1) * 20));
      await service.kill();

      receiver.received.length = 0;
      receiver.otherwise = { status: 204 };
      service = await start();
      const alarms = await service.get<AlarmView[]>('/api/alarms');
      const blob = alarms.find(({ type }) => type === 'blob')!;
      expect(blob.state).toMatch(/unacknowledged/i);
      const bodies = await until(
        () => receiver.bodies.filter(({ data }) => data.alarm === blob.id),
        (list) => list.some(({ type }) => type === 'strandward.raised'),
        `the message of round ${round}`,
        30_000,
      );
      const raised = bodies.filter(({ type }) => type === 'strandward.raised');
      expect(raised).toHaveLength(1);
      accepted.push({ id: blob.id, text: raised[0].data.text });
      await must('POST', '/api/alarms/acknowledge-all');
      await until(
        () => service.get<LiveState>('/api/state'),
        (s) => s.link.readings > 50 && s.alarms.every(({ state }) => state === 'acknowledged'),
        'all is answered',
      );
    }
    expect(new Set(accepted.map(({ text }) => text)).size).toBe(ROUNDS);
    expect((await people()).failedMessages).toEqual([]);
  });
});
