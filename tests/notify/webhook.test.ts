import { createHmac } from 'node:crypto';
import { afterEach, beforeEach, describe, expect, it, vi } from 'vitest';
import type { WebhookSettings } from '../../server/escalation/channel.ts';
import { DEFAULT_RULES } from '../../server/escalation/escalation-rules.ts';
import { Heartbeat } from '../../server/notify/heartbeat.ts';
import { retryAfterMs } from '../../server/notify/post.ts';
import { alarmOf, changeOf } from '../escalation/alarms.ts';
import { IS_LONG_CHECK } from '../long-check.ts';
import { until } from '../service/running-service.ts';
import { type Answer, HttpReceiver, type Received } from './http-receiver.ts';
import { type NotifierUnderTest, startNotifier } from './notifier-under-test.ts';

let receiver: HttpReceiver;
const ATTEMPT_MS = 400;
let under: NotifierUnderTest;
beforeEach(async () => {
  receiver = await new HttpReceiver().start();
  under = await startNotifier({ attemptMs: ATTEMPT_MS });
});
afterEach(async () => {
  await under.remove();
  await receiver.stop();
});

const hook = (more: Partial<WebhookSettings> = {}): WebhookSettings => ({
  kind: 'webhook',
  url: receiver.url,
  secret: '',
  template: '',
  ...more,
});
const came = (count: number) =>
  until(
    () => receiver.received.length,
    (n) => n >= count,
    `${count} messages`,
  );
const keys = () => receiver.received.map(({ headers }) => headers['webhook-id']);
const settled = () =>
  until(
    () => under.notifier.overview(),
    ({ channels }) => channels.every(({ waiting }) => waiting === 0),
    'nothing waits',
  );

describe('a webhook', () => {
  it('delivers the alarm as signed JSON', async () => {
    under.addPerson('Ada', [await under.addChannel('Hook', hook({ secret: 'a shared secret' }))]);
    under.setRules({ pageAddress: 'https://line.example' });
    under.raise({ sentence: 'Blob of 1.98 mm at 41.20 m of spool 1.' });
    await came(1);
    const [{ headers, body, method } = receiver.received[0]!] = receiver.received;
    expect(method).toBe('POST');
    expect(headers['content-type']).toBe('application/json');
    const id = headers['webhook-id'];
    const seconds = headers['webhook-timestamp'];
    expect(Math.abs(Number(seconds) - Date.now() / 1000)).toBeLessThan(30);
    const signature = createHmac('sha256', 'a shared secret').update(`${id}.${seconds}.${body}`).digest('base64');
    expect(headers['webhook-signature']).toBe(`v1,${signature}`);
    expect(receiver.bodies[0]).toMatchObject({
      type: 'strandward.raised',
      data: {
        key: id,
        priority: 'high',
        title: 'Get up: Blob',
        urgency: 'getUp',
        why: 'You asked to be woken for every blob.',
        conversation: 'alarm-1',
        text: 'Blob of 1.98 mm at 41.20 m of spool 1.',
        line: 'Bench line',
        alarm: 1,
        link: expect.stringMatching(/^https:\/\/line\.example\/answer\/a1t[\da-z]+-u[\da-z]+-1-[\da-f]{32}$/),
      },
    });
  });

  it('follows the template for a chat service', async () => {
    const template = '{"text": "{{line}}: {{title}} ({{priority}}). {{text}}", "thread": "{{conversation}}"}';
    under.addPerson('Ada', [await under.addChannel('Chat', hook({ template }))]);
    under.raise();
    await came(1);
    expect(receiver.bodies[0]).toEqual({
      text: 'Bench line: Get up: Blob (high). You asked to be woken for every blob. Blob of 1.98 mm at 41.20 m of spool 1.',
      thread: 'alarm-1',
    });
  });

  it('says once that the strand is ready to wind, to those who want to know and are awake', async () => {
    const channel = await under.addChannel('Hook', hook());
    under.addPerson('Ada', [channel], { tellWhenReady: true });
    under.addPerson('Ben', [channel]);
    under.addPerson('Cleo', [channel], { tellWhenReady: true, quiet: { from: '00:00', to: '23:59' } });
    const looks = under.looks;
    await until(
      () => under.looks - looks,
      (n) => n >= 3,
      'a second of the notifier',
    );
    under.firstReadyMs = 10_000;
    await came(1);
    await settled();
    expect(receiver.bodies).toMatchObject([
      { type: 'strandward.ready', data: { title: 'Ready to wind', urgency: null } },
    ]);
    expect(under.notifier.overview().recent).toMatchObject([{ to: 'Ada' }]);
  });

  it.skipIf(!IS_LONG_CHECK)(
    'waits longer for the answer to a retry, so that a slow receiver does not get copy after copy',
    async () => {
      // As a minute is to the 15 s of a first attempt.
      receiver.otherwise = { status: 200, afterMs: 4 * ATTEMPT_MS };
      under.setRules({ remindEveryMin: { high: 0, medium: 0, low: 0 } });
      under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
      under.raise();
      await came(1);
      await settled();
      expect(new Set(keys()).size).toBe(1);
      expect(under.notifier.overview()).toMatchObject({
        recent: [{ state: 'delivered', attempts: 2 }],
        failedMessages: [],
        channels: [{ state: { phase: 'working' } }],
      });
    },
  );

  it('delivers each message once despite 500, 429 with Retry-After and a missing answer', async () => {
    const script: Answer[] = [{ status: 500 }, { status: 429, headers: { 'retry-after': '1' } }, 'hang'];
    receiver.answerTo = ({ body }) => (/First/.test(body.toString()) ? (script.shift() ?? null) : null);
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    under.raise({ sentence: 'First.' });
    under.raise({ sentence: 'Second.' });
    under.raise({ sentence: 'Third.' });
    await until(
      () => receiver.received.length,
      (n) => n >= 6,
      'all of them',
      40_000,
    );
    await settled();
    expect(receiver.bodies.map(({ data }) => data.text)).toEqual([
      'First.',
      'Second.',
      'Third.',
      ...Array(3).fill('First.'),
    ]);
    const first = receiver.received.filter(({ body }) => /First/.test(body.toString()));
    expect(new Set(first.map(({ headers }) => headers['webhook-id'])).size).toBe(1);
    // Pauses grow: 1 s, 2 s, 4 s.
    for (let i = 1; i < 4; i++) {
      expect(first[i]!.atMs - first[i - 1]!.atMs).toBeGreaterThanOrEqual(1000 * 2 ** (i - 1) - 50);
    }
    expect(under.notifier.overview().recent.map(({ state }) => state)).toEqual(['delivered', 'delivered', 'delivered']);
  }, 60_000);

  it.each<[string, Answer]>([
    ['answers 500', { status: 500 }],
    ['wants to be left alone for an hour', { status: 429, headers: { 'retry-after': '3600' } }],
    ['never answers', 'hang'],
  ])('delivers an urgent message while less urgent ones wait because the receiver %s', async (_what, answer) => {
    const says = (wanted: RegExp) => (received: Received) => (wanted.test(received.body.toString()) ? answer : null);
    receiver.answerTo = says(/Lesser/);
    under.setRules({ remindEveryMin: { high: 0, medium: 0, low: 0 } });
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    under.raise({ priority: 'low', sentence: 'Lesser one.' });
    under.raise({ priority: 'low', sentence: 'Lesser two.' });
    await came(1);
    under.raise({ priority: 'high', sentence: 'Urgent one.' });
    under.raise({ priority: 'medium', sentence: 'Abnormal.' });
    under.raise({ priority: 'high', sentence: 'Urgent two.' });
    const texts = () => receiver.bodies.map(({ data }) => data.text as string);
    const delivered = (wanted: RegExp) => texts().filter((text) => wanted.test(text));
    await until(
      () => delivered(/Urgent|Abnormal/).length,
      (n) => n >= 3,
      'the urgent ones',
    );
    expect(delivered(/Urgent/)).toEqual(['Urgent one.', 'Urgent two.']);
    // The outbox notes a delivery a moment later.
    await until(
      () => under.notifier.overview().channels[0]!.waiting,
      (waiting) => waiting === 2,
      'the lesser ones to wait',
    );
    receiver.answerTo = () => null;
    under.aheadMs = 3_600_000;
    under.raise({ priority: 'low', sentence: 'Lesser three.' });
    await settled();
    expect(
      delivered(/Lesser/)
        .slice(-3)
        .sort(),
    ).toEqual(['Lesser one.', 'Lesser three.', 'Lesser two.']);
    // Each message has its own key; only a retry arrives with the same one.
    const keyOf = new Map(texts().map((text, at) => [keys()[at], text]));
    expect(keyOf.size).toBe(6);
    expect(under.notifier.overview()).toMatchObject({ failedMessages: [], troubles: [] });
  });

  it('retries an urgent message after two minutes, however long a Retry-After the receiver sends', async () => {
    receiver.script.push({ status: 429, headers: { 'retry-after': '86400' } });
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    under.raise();
    await came(1);
    const waits = () => under.store.people.waiting();
    const [entry] = await until(waits, ([one]) => one?.attempts === 1, 'the attempt is kept');
    const { atMs } = receiver.received[0]!;
    expect(entry!.nextMs - atMs).toBeGreaterThan(100_000);
    expect(entry!.nextMs - atMs).toBeLessThan(125_000);
    under.aheadMs = 121_000;
    // The clock of a service never steps; a new message makes the queue look again at the waiting ones.
    under.raise({ priority: 'low' });
    await came(3);
    await settled();
  });

  it('never sends “acknowledged” after the alarm was raised again', async () => {
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    const alarm = under.raise();
    await came(1);
    await settled();
    receiver.otherwise = { status: 500 };
    under.step('acknowledged', alarmOf('high', { ...alarm, state: 'acknowledged', acknowledgedBy: 'Ben' }), 'Ben');
    await came(2);
    const againMs = Date.now();
    under.step('again', { ...alarm, occurrences: 2, lastOccurredMs: againMs, sentence: 'It is there again.' });
    receiver.otherwise = { status: 204 };
    await until(
      () => receiver.bodies.map(({ data }) => data.text),
      (texts) => texts.includes('It is there again.'),
      'the alarm raised again',
    );
    await settled();
    under.aheadMs = 60_000;
    await settled();
    expect(receiver.bodies.at(-1).data.text).toBe('It is there again.');
  });

  it('waits as long as Retry-After asks, in seconds or as a date', async () => {
    // Both examples are from RFC 9110, section 10.2.3.
    expect(retryAfterMs('120', 0)).toBe(120_000);
    const date = 'Fri, 31 Dec 1999 23:59:59 GMT';
    expect(retryAfterMs(date, Date.UTC(1999, 11, 31, 23, 59, 0))).toBe(59_000);
    expect(retryAfterMs('soon', 0)).toBeNull();
    receiver.script.push({ status: 503, headers: { 'retry-after': '3' } });
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    under.raise();
    await came(2);
    const [first, second] = receiver.received;
    expect(second!.atMs - first!.atMs).toBeGreaterThanOrEqual(2950);
  });

  it('is failing after three attempts, reports that over the other channels, and works again after a delivery', async () => {
    const other = await new HttpReceiver().start();
    receiver.otherwise = { status: 500 };
    const bad = await under.addChannel('Chat', hook());
    under.addPerson('Ada', [bad, await under.addChannel('Hook', hook({ url: other.url }))]);
    under.raise();
    await until(
      () => other.received.length,
      (n) => n >= 2,
      'the alarm and the trouble',
    );
    expect(other.bodies.map(({ type }) => type)).toEqual(['strandward.raised', 'strandward.trouble']);
    expect(other.bodies[1].data.text).toMatch(/“Chat” delivers no messages. 127\.0\.0\.1:\d+ answered with status 500/);
    const failing = under.notifier.overview();
    expect(failing.channels[0]).toMatchObject({ waiting: 1, state: { phase: 'failing' } });
    expect(failing.troubles[0]).toMatch(/“Chat”/);
    receiver.otherwise = { status: 200 };
    await settled();
    expect(under.notifier.overview()).toMatchObject({ troubles: [], channels: [{ state: { phase: 'working' } }, {}] });
    // It started to fail once, so that was reported once.
    expect(other.received).toHaveLength(2);
    await other.stop();
  });

  it('lists a message that the receiver refuses for good as failed, and continues with the next', async () => {
    receiver.script.push({ status: 400 });
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    under.raise({ sentence: 'First.' });
    under.raise({ sentence: 'Second.' });
    await came(2);
    await settled();
    expect(receiver.bodies.map(({ data }) => data.text)).toEqual(['First.', 'Second.']);
    expect(under.notifier.overview().failedMessages).toMatchObject([
      { state: 'refused', attempts: 1, why: expect.stringMatching(/status 400/), message: { text: 'First.' } },
    ]);
    under.notifier.forgetDead('test');
    expect(under.notifier.overview().failedMessages).toEqual([]);
  });

  it('gives up a message that is too late to be of use, and logs that', async () => {
    receiver.otherwise = 'break';
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    under.raise();
    await came(1);
    under.aheadMs = 13 * 3_600_000;
    await until(
      () => under.notifier.overview().failedMessages,
      (dead) => dead.some(({ state }) => state === 'expired'),
      'it expired',
    );
    expect(under.logged.join('\n')).toMatch(/not delivered in time/);
  });

  it('withdraws a message whose alarm was answered before it was sent', async () => {
    receiver.otherwise = { status: 500 };
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    const alarm = under.raise();
    await came(1);
    under.step('acknowledged', alarmOf('high', { ...alarm, state: 'acknowledged', acknowledgedBy: 'Ben' }), 'Ben');
    receiver.otherwise = { status: 204 };
    await settled();
    expect(under.notifier.overview().failedMessages).toEqual([]);
    expect(receiver.bodies.at(-1)).toMatchObject({
      type: 'strandward.acknowledged',
      data: { title: 'Can wait: Blob (answered)' },
    });
  });

  it('continues after a restart with waiting messages and with steps that are only in the journal', async () => {
    const { port } = receiver;
    await receiver.stop();
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    under.raise({ sentence: 'Before.' });
    await under.notifier.stop();
    // Killed between journal and outbox: the step is in the record, but no one was notified.
    const missed = alarmOf('high', { id: 50, sentence: 'Between.', raisedMs: Date.now(), lastOccurredMs: Date.now() });
    under.store.writer.saveAlarmChanges(null, [changeOf('raised', missed)]);
    receiver.port = port;
    await receiver.start();
    await under.restart();
    await came(2);
    await settled();
    // The one that failed before is retried as well.
    expect(receiver.bodies.map(({ data }) => data.text).sort()).toEqual(['Before.', 'Between.']);
    await under.restart();
    await settled();
    expect(receiver.received).toHaveLength(2);
  });

  it('writes its secrets to no log', async () => {
    receiver.otherwise = { status: 403 };
    under.addPerson('Ada', [await under.addChannel('Hook', hook({ secret: 'signing-secret' }))]);
    under.raise();
    await came(1);
    await receiver.stop();
    await until(
      () => under.logged.filter((line) => /not delivered/.test(line)).length,
      (n) => n >= 2,
      'two attempts logged',
    );
    expect(under.logged.join('\n')).not.toMatch(/t0psecret|signing-secret/);
  });
});

describe('a test of a channel', () => {
  let unused = '';
  beforeEach(async () => {
    const gone = await new HttpReceiver().start();
    unused = gone.url;
    await gone.stop();
  });

  it('reports success at once', async () => {
    await under.notifier.tryChannel(null, 'Hook', hook());
    expect(receiver.bodies[0]).toMatchObject({ type: 'strandward.test' });
  });

  it('marks the channel as working if it is then added with the same settings, and no other', async () => {
    await under.notifier.tryChannel(null, 'Hook', hook());
    const tested = await under.addChannel('Hook', hook());
    const other = await under.addChannel('Other hook', hook({ secret: 'another-secret' }));
    const phases = new Map(
      under.notifier.overview().channels.map(({ channel, state }) => [channel.id, state.phase] as const),
    );
    expect(phases.get(tested)).toBe('working');
    expect(phases.get(other)).toBe('untried');
  });

  it.each([
    ['a port where nobody listens', () => hook({ url: unused }), /Nothing is listening at 127\.0\.0\.1/],
    ['a template that does not parse', () => hook({ template: '{"text": {{text}}}' }), /not valid JSON/],
    ['an answer that never comes', () => hook(), /did not answer in time/],
  ])('reports %s in plain text', async (_what, settings, text) => {
    receiver.otherwise = 'hang';
    await expect(under.notifier.tryChannel(null, 'Hook', settings())).rejects.toThrow(text);
  });
});

describe('a drill', () => {
  it('reaches everyone and is confirmed by a link, or by name on the page', async () => {
    const channel = await under.addChannel('Hook', hook());
    under.addPerson('Ada', [channel], { quiet: { from: '00:00', to: '23:59' }, leastPriority: 'high' });
    const ben = under.addPerson('Ben', [await under.addChannel('Hook 2', hook())], { round: 2 });
    under.setRules({ pageAddress: 'https://line.example' });
    const { id } = under.notifier.startDrill('test');
    await came(2);
    expect(receiver.bodies.map(({ type }) => type)).toEqual(['strandward.drill', 'strandward.drill']);
    const links: string[] = receiver.bodies.map(({ data }) => data.link);
    const token = links
      .find((link) => /\/answer\/d1-u[\da-z]+-1-/.test(link))!
      .split('/')
      .at(-1)!;
    expect(under.notifier.question(token)).toMatchObject({ what: 'drill', names: ['Ada'], state: 'open' });
    expect(under.notifier.overview().drills[0]).toMatchObject({ outcome: 'waiting' });
    expect(under.notifier.answer(token, null)).toMatchObject({ state: 'answered' });
    under.notifier.confirmDrill(id, ben);
    expect(under.notifier.overview().drills[0]).toMatchObject({ outcome: 'all' });
  });

  it('that no one confirms reports that no one was reached', async () => {
    receiver.otherwise = { status: 204 };
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    under.notifier.startDrill('test');
    await came(1);
    under.aheadMs = 11 * 60_000;
    expect(under.notifier.overview().drills[0]).toMatchObject({ outcome: 'none' });
    expect(under.notifier.troubles()).toEqual(['The last alarm test: No one was reached.']);
    await until(
      () => under.store.reader.logEntries({ limit: 20 }),
      (entries) => entries.some(({ what }) => /larm test 1: No one was reached/.test(what)),
      'it is in the log',
    );
  });

  it('starts once at its scheduled time, and reports who was reached', async () => {
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    const schedule = { weekdays: [1], at: '18:30' };
    // The next Monday, a minute after the time.
    const now = new Date();
    const days = (8 - now.getUTCDay()) % 7 || 7;
    const dueMs = Date.UTC(now.getUTCFullYear(), now.getUTCMonth(), now.getUTCDate() + days, 18, 31);
    under.setRules({ pageAddress: 'https://line.example', drill: schedule });
    expect(under.notifier.overview().drills).toEqual([]);
    under.aheadMs = dueMs - Date.now();
    await came(1);
    expect(receiver.bodies[0]).toMatchObject({ type: 'strandward.drill', data: { priority: 'high' } });
    expect(under.notifier.overview().drills).toMatchObject([{ drill: { by: 'the schedule' }, outcome: 'waiting' }]);
    under.aheadMs += 11 * 60_000;
    const logged = (text: RegExp) =>
      until(
        () => under.store.reader.logEntries({ limit: 20 }),
        (entries) => entries.some(({ what }) => text.test(what)),
        'it is in the log',
      );
    await logged(/larm test 1: No one was reached/);
    // No second drill on the same day; the next one is due a week later, and is confirmed.
    under.aheadMs += 7 * 24 * 3_600_000 - 11 * 60_000;
    await came(2);
    const token = String(receiver.bodies[1].data.link).split('/').at(-1)!;
    under.notifier.answer(token, null);
    await logged(/larm test 2: Ada confirmed/);
    expect(under.notifier.overview().drills.map(({ outcome }) => outcome)).toEqual(['all', 'none']);
    expect(receiver.received).toHaveLength(2);
  });

  it('is refused if no one can be reached', () => {
    expect(() => under.notifier.startDrill('test')).toThrow(/No one can be reached/);
  });
});

describe('the link in a message', () => {
  const tokens = () => receiver.bodies.map(({ data }) => String(data.link).split('/').at(-1)!);
  beforeEach(async () => {
    under.addPerson('Ada', [await under.addChannel('Hook', hook())]);
    under.setRules({ pageAddress: 'https://line.example' });
  });

  it('acknowledges its alarm and no other', async () => {
    under.raise();
    under.raise();
    await came(2);
    const [token = ''] = tokens();
    expect(() => under.notifier.answer(token.replace('a1', 'a2'), null)).toThrow(/does not belong to any message/);
    expect(under.notifier.question(token)).toMatchObject({ state: 'open', alarm: { id: 1 } });
    expect(under.notifier.answer(token, 1)).toMatchObject({ state: 'answered', alarm: { acknowledgedBy: 'Ada' } });
    await came(3);
    expect(receiver.bodies[2]).toMatchObject({ type: 'strandward.acknowledged', data: { alarm: 1 } });
  });

  it('does not acknowledge what happened after its alarm had been answered', async () => {
    const alarm = under.raise();
    await came(1);
    under.step('acknowledged', { ...alarm, state: 'acknowledged', acknowledgedBy: 'Ben' }, 'Ben');
    await came(2);
    const [old = ''] = tokens();
    expect(under.notifier.question(old)).toMatchObject({ state: 'answered', alarm: { acknowledgedBy: 'Ben' } });
    // The same alarm, still active, but for another blob that no one has seen.
    under.step('again', { ...alarm, occurrences: 2, lastOccurredMs: alarm.raisedMs + 90_000 });
    await came(3);
    expect(under.notifier.question(old)).toMatchObject({ state: 'raisedAgain' });
    expect(under.notifier.answer(old, 2)).toMatchObject({ state: 'raisedAgain', alarm: { state: 'unacknowledged' } });
    const newer = tokens()[2]!;
    const [, since = ''] = /^a1t([\da-z]+)-/.exec(newer)!;
    expect(() => under.notifier.question(old.replace(/t[\da-z]+/, `t${since}`))).toThrow(
      /does not belong to any message/,
    );
    expect(under.notifier.answer(newer, 2)).toMatchObject({ state: 'answered', alarm: { acknowledgedBy: 'Ada' } });
    await came(4);
    // After a restart as well, because the escalation is in the record.
    under.step('again', { ...alarm, occurrences: 3, lastOccurredMs: alarm.raisedMs + 180_000 });
    await came(5);
    await under.restart();
    expect(tokens().flatMap((token) => (token.startsWith('a') ? under.notifier.question(token).state : []))).toEqual([
      'raisedAgain',
      'raisedAgain',
      'open',
    ]);
  });

  it('does not acknowledge what happened while the page was open', async () => {
    const alarm = under.raise();
    await came(1);
    const [token = ''] = tokens();
    const seen = under.notifier.question(token).alarm!.occurrences;
    under.step('again', { ...alarm, occurrences: 2, lastOccurredMs: alarm.raisedMs + 5000 });
    expect(() => under.notifier.answer(token, seen)).toThrow(/happened again just now/);
    expect(under.notifier.question(token)).toMatchObject({ state: 'open', alarm: { occurrences: 2 } });
    expect(under.notifier.answer(token, 2)).toMatchObject({ state: 'answered' });
  });

  it('reports that an alarm is suppressed or over', async () => {
    const alarm = under.raise();
    await came(1);
    const [token = ''] = tokens();
    under.step('shelved', { ...alarm, state: 'shelved' }, 'Ben');
    expect(under.notifier.answer(token, 1)).toMatchObject({ state: 'suppressed', alarm: { state: 'shelved' } });
    under.end(alarm.id);
    expect(under.notifier.answer(token, 1)).toMatchObject({ state: 'over', alarm: null });
  });
});

describe('a heartbeat', () => {
  it('is sent while the service runs, and a failure is reported', async () => {
    under.setRules({ heartbeatAddress: receiver.url, heartbeatEveryS: 10 });
    await came(1);
    expect(receiver.received[0]).toMatchObject({ method: 'GET' });
    await until(
      () => under.notifier.overview().heartbeat,
      (state) => state?.lastOkMs !== null,
      'it was accepted',
    );
    receiver.otherwise = { status: 503 };
    under.aheadMs = 11_000;
    await until(
      () => under.notifier.troubles(),
      (list) => list.length > 0,
      'it is reported',
    );
    expect(under.notifier.troubles()[0]).toMatch(/answered the heartbeat with status 503/);
  });

  it('goes on after an answer that never came', async () => {
    receiver.otherwise = 'hang';
    vi.useFakeTimers({ toFake: ['setTimeout', 'clearTimeout'] });
    let nowMs = 0;
    const rules = { ...DEFAULT_RULES, heartbeatAddress: receiver.url, heartbeatEveryS: 60 };
    const heartbeat = new Heartbeat(
      () => rules,
      () => nowMs,
    );
    try {
      for (const beats of [1, 2]) {
        heartbeat.tick();
        await vi.waitUntil(() => receiver.received.length === beats);
        await vi.advanceTimersByTimeAsync(10_000);
        await vi.waitUntil(() => heartbeat.state?.text === `127.0.0.1:${receiver.port} did not answer in time.`);
        nowMs += 60_000;
      }
    } finally {
      vi.useRealTimers();
      await heartbeat.stop();
    }
  });
});
