/** What really arrives in a mailbox: the picture of the strand around a blob, and the scheduled alarm test. */
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { type Certificate, makeCertificate } from '../notify/certificate.ts';
import { decodePng } from '../notify/decode-png.ts';
import { MAIL_PASSWORD, MAIL_USER, type MailPart, MailReceiver, partsOf } from '../notify/mail-receiver.ts';
import { type RunningService, startService, until } from './running-service.ts';
import { ScriptedBoard } from './scripted-board.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

let board: ScriptedBoard;
let certificate: Certificate;
let mail: MailReceiver;
let service: RunningService;
const must = async (method: string, path: string, body?: unknown) => {
  const reply = await service.send(method, path, body);
  if (reply.status >= 300) throw new Error(`${method} ${path}: ${reply.status} ${JSON.stringify(reply.body)}`);
  return reply.body;
};
/** Noon somewhere, so that no midnight comes between a schedule and its drill. */
const noonHours = new Date().getUTCHours() - 12;
const NOON_ZONE = `Etc/GMT${noonHours < 0 ? '' : '+'}${noonHours}`;

/** The leaves of the first mail with this subject, which is an encoded word of RFC 2047. */
const mailAbout = (subject: RegExp): Promise<MailPart[]> =>
  until(
    () =>
      mail.mails.map(({ text }) => text).find((text) => subject.test(/^Subject: (.*)/m.exec(text)?.[1] ?? '')) ?? '',
    (text) => text !== '',
    `a mail about ${subject}`,
    60_000,
  ).then(partsOf);
const ofType = (parts: readonly MailPart[], type: string) =>
  parts.find(({ headers }) => headers.get('content-type')?.startsWith(type))!;

beforeAll(async () => {
  certificate = makeCertificate();
  mail = new MailReceiver(certificate);
  board = await new ScriptedBoard().start();
  service = await startService({ source: board.source, env: { TZ: NOON_ZONE } });
  const channel = await must('POST', '/api/channels', {
    name: 'Mail',
    settings: {
      kind: 'email',
      host: 'localhost',
      port: await mail.listen(),
      security: 'starttls',
      user: MAIL_USER,
      password: MAIL_PASSWORD,
      from: 'line@example.org',
      to: 'ada@example.org',
      certificate: certificate.cert,
    },
  });
  const ada = { name: 'Ada', channelIds: [channel.id], leastPriority: 'low', quiet: null, round: 1 };
  await must('POST', '/api/people', ada);
});
afterAll(async () => {
  await service?.remove();
  await board?.stop();
  await mail?.stop();
  certificate?.remove();
});

test.skipIf(!IS_LONG_CHECK)('a mail about a blob carries the picture of the strand around it', async () => {
  await must('PUT', '/api/settings', { gaugeToWinderMm: 100, settleLengthMm: 100_000 });
  await must('POST', '/api/stage', { stage: 'winding' });
  // Some strand before it, so that there is something to see.
  board.stretch(12, 2.1, 600);
  const parts = await mailAbout(/Blob/);
  const picture = ofType(parts, 'image/png');
  const html = ofType(parts, 'text/html').body.toString();
  const id = /^<(.*)>$/.exec(picture.headers.get('content-id') ?? '')?.[1];
  expect(html).toContain(`src="cid:${id}"`);
  // Whoever does not see it reads it.
  const text = /alt="([^"]*)"/.exec(html)?.[1] ?? '';
  expect(text).toMatch(/^Diameter from -?[\d.]+ m to [\d.]+ m of spool \d+: 1\.7\d to 2\.\d+ mm, nominal 1\.75 mm/);
  expect(ofType(parts, 'text/plain').body.toString()).toContain(text);

  const { width, height, colourAt } = decodePng(picture.body);
  expect([width, height]).toEqual([640, 260]);
  const pixels = Array.from({ length: width * height }, (_, i) => colourAt(i % width, Math.floor(i / width)));
  const inked = (colour: string) => pixels.filter((pixel) => pixel === colour).length;
  // The trace within limits, what of it is beyond, and the tolerance band behind it.
  for (const colour of ['16201e', 'c4161c', 'dcefe4']) expect(inked(colour)).toBeGreaterThan(100);
});

test('the scheduled alarm test starts once, and is confirmed by the link in the mail', async () => {
  const clock = new Intl.DateTimeFormat('en-GB', { hour: '2-digit', minute: '2-digit', timeZone: NOON_ZONE });
  const drill = { weekdays: [0, 1, 2, 3, 4, 5, 6], at: clock.format(Date.now()) };
  const rules = { ...DEFAULT_RULES, pageAddress: 'https://line.example', drill, heartbeatAddress: '' };
  await must('PUT', '/api/escalation-rules', rules);
  const text = ofType(await mailAbout(/Alarm[ _]test/), 'text/plain').body.toString();
  const [, token] = /https:\/\/line\.example\/answer\/([\w-]+)/.exec(text)!;
  const drills = async () => (await service.get<PeopleView>('/api/people')).drills;
  expect(await drills()).toMatchObject([{ by: 'the schedule', outcome: 'waiting' }]);
  expect(await must('POST', `/api/answers/${token}`)).toMatchObject({ kind: 'drill', state: 'answered' });
  const logged = await until(
    () => service.get<{ what: string }[]>('/api/log'),
    (entries) => entries.some(({ what }) => /alarm test 1: Ada confirmed/i.test(what)),
    'the outcome is in the log',
  );
  // Its time is not over yet, the schedule has had its turn since: still one.
  expect(logged.filter(({ what }) => /Started alarm test/.test(what))).toHaveLength(1);
  expect(await drills()).toMatchObject([{ outcome: 'all' }]);
});
