/** Firefox, which trusts the authority of the house: notified by what only it can decrypt, also with no page open. */
import { execFileSync } from 'node:child_process';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import { HouseAuthority } from '../../server/certificate/house-authority.ts';
import { namesOfThisMachine } from '../../server/certificate/house-names.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { ScriptedBoard } from '../service/scripted-board.ts';
import { Firefox } from './firefox.ts';
import { PushService } from './push-service.ts';
import { PushToFirefox } from './push-to-firefox.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

/** For the browser it is no loopback name. */
const NAME = namesOfThisMachine().find((name) => name.endsWith('.local')) ?? '';
let profile: string;
let board: ScriptedBoard;
let service: RunningService;
let origin: string;
let push: PushService;
let pushToFirefox: PushToFirefox;
let firefox: Firefox;
beforeAll(async () => {
  const dataFolder = newDataFolder();
  board = await new ScriptedBoard().start();
  service = await startService({ source: board.source, dataFolder, args: ['--https', 'own-ca'] });
  origin = `https://${NAME}:${new URL(service.address).port}`;
  push = await new PushService().start();
  pushToFirefox = new PushToFirefox(push);
  profile = mkdtempSync(join(tmpdir(), 'strandward-firefox-'));
  const certificate = join(profile, 'house.crt');
  writeFileSync(certificate, HouseAuthority.in(join(dataFolder, 'authority')).pem);
  execFileSync('certutil', ['-N', '--empty-password', '-d', `sql:${profile}`]);
  execFileSync('certutil', ['-A', '-d', `sql:${profile}`, '-n', 'house', '-t', 'C,,', '-i', certificate]);
  firefox = await Firefox.start(profile, {
    'network.dns.localDomains': NAME,
    ...(await pushToFirefox.start()),
    // There is no desktop here that could show a notification for it.
    'alerts.useSystemBackend': false,
    // What a user answers to the question whether the page may notify.
    'permissions.default.desktop-notification': 1,
  });
});
afterAll(async () => {
  await firefox?.close();
  pushToFirefox?.stop();
  push?.stop();
  await service?.remove();
  await board?.stop();
  rmSync(profile, { recursive: true });
});

const type = (id: string, text: string) =>
  firefox.once(
    `typing into ${id}`,
    `const field = document.getElementById('${id}');
    if (field === null) return false;
    field.value = '${text}';
    return field.dispatchEvent(new InputEvent('input', { bubbles: true }));`,
  );
const press = (name: string, tab?: string) =>
  firefox.once(
    `pressing “${name}”`,
    `const named = (one) => one.textContent === '${name}' && !one.disabled;
    const button = [...document.querySelectorAll('button')].find(named);
    button?.click();
    return button !== undefined;`,
    tab,
  );
/** What the windows of notifications say, newest last. */
async function notified(): Promise<readonly { title: string; text: string }[]> {
  const said = `(({ value: title }, { textContent: text }) => ({ title, text }))(
    document.getElementById('alertTitleLabel'), document.getElementById('alertTextLabel'))`;
  const windows = await firefox.notificationWindows();
  return Promise.all(windows.map((window) => firefox.evaluate<{ title: string; text: string }>(said, window)));
}
/** Closes the newest notification by a press on it, and waits for the page that it opens. @returns its tab */
async function follow(path: RegExp): Promise<string> {
  const [newest] = (await firefox.notificationWindows()).slice(-1);
  await firefox.evaluate(`document.getElementById('alertBox').click()`, newest);
  const found = (tabs: Awaited<ReturnType<Firefox['tabs']>>) =>
    tabs.find(({ url }) => path.test(url.replace(origin, '')));
  const tabs = await until(
    () => firefox.tabs(),
    (all) => found(all) !== undefined,
    'the page of the notification',
  );
  return found(tabs)!.context;
}
const drills = async (): Promise<{ outcome: string }[]> => (await service.send('GET', '/api/people')).body.drills;

test('one press subscribes it; the test message is shown, and opens the page where it is confirmed', async () => {
  const { body } = await service.send('POST', '/api/invitations', { right: 'act' });
  await firefox.open(`${origin}/pair#${body.code}/phone`);
  expect(await firefox.evaluate('isSecureContext')).toBe(true);
  await type('pair-name', 'workshop laptop');
  await press('Pair this device');
  await type('phone-person', 'Ada');
  await press('Turn on notifications');
  const [shown] = await until(notified, (all) => all.length === 1, 'the notification');
  expect(shown).toEqual({
    title: 'Alarm test',
    text: expect.stringMatching(/^This is alarm test 1: nothing is wrong/),
  });
  expect(push.posted.map((posted) => posted.includes('alarm'))).toEqual([false]);
  expect(pushToFirefox.outcomes).toEqual(['delivered']);
  await press('I got it', await follow(/^\/answer\/./));
  await until(drills, ([newest]) => newest?.outcome === 'all', 'the confirmation');
});

test('what is not encrypted for it is not shown', async () => {
  const changed = Buffer.from(push.posted.at(-1)!);
  changed[changed.length - 1]! ^= 1;
  push.forge(changed);
  await until(
    () => pushToFirefox.outcomes,
    (outcomes) => outcomes.includes('not decrypted'),
    'the refusal',
  );
  expect(await notified()).toEqual([]);
});

test('an alarm is shown while no page is open', async () => {
  await firefox.closePages();
  await board.stop();
  const [shown] = await until(notified, (all) => all.length === 1, 'the notification');
  expect(shown).toEqual({
    title: 'Get up: No data',
    text: expect.stringMatching(/^Neither the strand nor the heat is/),
  });
  expect((await firefox.tabs()).map(({ url }) => url)).toEqual(['about:blank']);
  await press('I’m on it', await follow(/^\/answer\/./));
  const journal = async () => (await service.send('GET', '/api/alarms')).body;
  await until(journal, ([alarm]) => alarm?.acknowledgedBy === 'Ada', 'the answer in the journal');
});

test('a second press keeps the subscription', async () => {
  await firefox.open(`${origin}/phone`);
  await press('Turn on notifications');
  await until(notified, (all) => all.length === 1, 'the notification');
  expect(push.subscribed).toBe(1);
  // Nothing that the pages do is refused by their own policy, or fails.
  expect(firefox.complaints).toEqual([]);
});
