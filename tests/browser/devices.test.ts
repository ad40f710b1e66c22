/// <reference lib="dom" />
/** Pairing a phone from a page on the machine itself, and removing it, in a real browser. */
import type { BrowserContextOptions, Locator } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, test, vi } from 'vitest';
import type { DevicesView } from '../../server/api/contract/devices.ts';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { HttpReceiver } from '../notify/http-receiver.ts';
import { PushReceiver } from '../notify/push-receiver.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { contrastFaults, PHONE, sharedBrowser, stateFaults, type TestBrowser, withoutLostService } from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

const KEY = 'twelve-or-more-letters';
const ANDROID = 'Mozilla/5.0 (Linux; Android 14; Pixel) AppleWebKit/537.36 Chrome/140.0 Mobile Safari/537.36';

let service: RunningService;
let browser: TestBrowser;
const opened = new OpenedPages(
  () => browser,
  () => '',
);
const open = (address: string, options: BrowserContextOptions = {}) => opened.open(address, options);
/** Browsers resolve this name to the machine itself, but to the service it is the name of another device's choice. */
const fromOutside = () => service.address.replace('127.0.0.1', 'line.localhost');

beforeAll(async () => {
  [service, browser] = await Promise.all([
    startService({ source: 'simulator:steady', dataFolder: newDataFolder(), args: ['--log', 'warn'] }),
    sharedBrowser(),
  ]);
  const { rules } = await service.get<PeopleView>('/api/people');
  const stated = await service.send('PUT', '/api/escalation-rules', { ...rules, pageAddress: fromOutside() });
  expect(stated.status).toBe(200);
});
afterEach(async () => {
  // The browser logs each refusal, and what it lost when a test stopped its service or closed its feed.
  const faults = withoutLostService(await opened.close()).filter((text) => !/status of 40[01]/.test(text));
  expect(faults).toEqual([]);
});
afterAll(async () => {
  await browser?.close();
  await service?.remove();
});

test('pairs a phone, shows it, and throws it out when it is removed', async () => {
  const { page: laptop } = await open(`${service.address}/set-up`);
  await laptop.getByRole('link', { name: 'Devices' }).click();
  await laptop.getByRole('button', { name: 'Pair a device' }).click();
  const link = (await laptop.getByTestId('invitation-link').textContent()) ?? '';
  expect(link).toMatch(new RegExp(`^${fromOutside()}/pair#[\\w-]{22}$`));
  expect(await stateFaults(laptop, 'invitation')).toEqual([]);
  expect(await contrastFaults(laptop, 'invitation', 'dark')).toEqual([]);

  const { page: phone } = await open(fromOutside(), { viewport: PHONE, userAgent: ANDROID });
  await phone.getByText('This device is not paired').waitFor();
  expect(await stateFaults(phone, 'not paired')).toEqual([]);
  expect(await phone.getByText('With the access key').count()).toBe(0);
  await phone.goto(link);
  const name = phone.getByLabel('Name of this device');
  await expect.poll(() => name.inputValue()).toBe('Android phone');
  expect(await stateFaults(phone, 'pairing')).toEqual([]);
  expect(await contrastFaults(phone, 'pairing', 'dark')).toEqual([]);
  await name.fill('kitchen phone');
  await phone.getByRole('button', { name: 'Pair this device' }).click();
  await phone.getByTestId('diameter-now').waitFor();
  expect(new URL(phone.url()).hash).toBe('');
  expect(await phone.evaluate(() => document.cookie)).toBe('');

  await laptop.getByText('kitchen phone is paired').waitFor();
  const device = laptop.getByTestId('device');
  expect(await device.textContent()).toMatch(/kitchen phone may watch and act.*added by/);
  expect(await stateFaults(laptop, 'devices')).toEqual([]);
  // The phone learns at once what it may do, without being loaded again.
  await device.getByLabel('What kitchen phone may do').selectOption('Watch only');
  await phone.getByTestId('watch-only').waitFor();
  await device.getByLabel('What kitchen phone may do').selectOption('Manage');
  await phone.getByTestId('watch-only').waitFor({ state: 'detached' });
  await laptop.getByText('kitchen phone may manage now.').waitFor();
  await device.getByRole('button', { name: 'Remove kitchen phone' }).click();
  await device.getByRole('button', { name: 'Remove for good' }).click();
  await phone.getByText('This device is not paired').waitFor();
  expect(await laptop.getByTestId('device').count()).toBe(0);
  // Removed is not lost: no alarm about the connection sounds on it.
  expect(await phone.getByTestId('connection-banner').count()).toBe(0);
});

test('adds a phone with few taps, from nothing to a confirmed test message', async () => {
  const receiver = await new HttpReceiver().start();
  const device = new PushReceiver();
  let taps = 0;
  const tap = async (button: Locator) => {
    await button.click();
    taps += 1;
  };
  const { page: laptop } = await open(service.address);
  await tap(laptop.getByRole('link', { name: 'People', exact: true }));
  await tap(laptop.getByRole('button', { name: 'Add a phone' }));
  const link = (await laptop.getByTestId('invitation-link').textContent()) ?? '';
  // For a browser this name is the machine itself, so it allows notifications; the page can only go by the protocol.
  await laptop.getByTestId('no-push-by-http').waitFor();

  const options = { viewport: PHONE, userAgent: ANDROID, permissions: ['notifications'] };
  const phone = await open('about:blank', options);
  // The push service of the browser's maker, which a test must not use.
  await phone.page.addInitScript(
    ({ endpoint, keys }) => {
      PushManager.prototype.subscribe = async () =>
        ({ toJSON: () => ({ endpoint, keys }) }) as unknown as PushSubscription;
    },
    { endpoint: receiver.url, keys: device.keys },
  );
  await phone.page.goto(link);
  await tap(phone.page.getByRole('button', { name: 'Pair this device' }));
  const name = phone.page.getByLabel('Your name');
  await name.waitFor();
  expect(new URL(phone.page.url()).pathname).toBe('/phone');
  expect(await stateFaults(phone.page, 'notify this device')).toEqual([]);
  await tap(name);
  await phone.page.keyboard.type('Ada');
  await tap(phone.page.getByRole('button', { name: 'Turn on notifications' }));
  const { body } = await until(
    () => receiver.received[0],
    (one) => one !== undefined,
    'the test message',
  ).then((one) => one!);
  expect(JSON.parse(device.decrypt(body).toString())).toMatchObject({ title: 'Alarm test' });
  await laptop.getByText(/test message was sent to it. Waiting for Ada/).waitFor();
  await tap(phone.page.getByRole('button', { name: 'I got it' }));
  await phone.page.getByText('Done: alarms reach Ada on this device.').waitFor();
  await laptop.getByText('Everyone was reached: Ada.').first().waitFor();
  process.stdout.write(
    `add a phone: ${taps} taps on our pages; the phone asks to open the link and to allow notifications\n`,
  );
  expect(taps).toBeLessThanOrEqual(8);
  const { contacts, channels } = await service.get<PeopleView>('/api/people');
  expect(contacts).toMatchObject([{ name: 'Ada', channelIds: [channels[0]!.id] }]);
  await receiver.stop();
});

test('a page of a device that may only watch says so, and its controls are switched off', async () => {
  const { page } = await open(fromOutside(), { viewport: PHONE });
  const invited = await service.send('POST', '/api/invitations', { right: 'watch' });
  await page.goto(`${fromOutside()}/pair#${invited.body.code}`);
  await page.getByLabel('Name of this device').fill('hall tablet');
  await page.getByRole('button', { name: 'Pair this device' }).click();
  await page.getByTestId('watch-only').waitFor();
  const stage = page.getByTestId('stage').getByRole('button', { name: 'Winding' });
  expect(await stage.isDisabled()).toBe(true);
  expect(await stateFaults(page, 'live, watch only')).toEqual([]);
  for (const [path, name] of [
    ['people', 'Add a person or group'],
    ['printers', 'Add a printer'],
  ] as const) {
    await page.goto(`${fromOutside()}/${path}`);
    await page.getByTestId('right-missing').waitFor();
    expect(await page.getByRole('button', { name }).isDisabled()).toBe(true);
    expect(await stateFaults(page, `${path}, watch only`)).toEqual([]);
  }
  await page.goto(`${fromOutside()}/devices`);
  await page.getByText('Only a device with the right to manage sees').waitFor();
  // A browser on the machine itself may manage.
  const { page: laptop } = await open(`${service.address}/people`);
  const add = laptop.getByRole('button', { name: 'Add a person or group' });
  await add.waitFor();
  expect(await add.isDisabled()).toBe(false);
  expect(await laptop.getByTestId('watch-only').count()).toBe(0);
});

test('shows the token of a program once', async () => {
  const { page } = await open(`${service.address}/devices`);
  await page.getByRole('button', { name: 'Add a token' }).click();
  await page.getByRole('button', { name: 'Add the token' }).click();
  await page.getByText('The name is empty.').waitFor();
  await page.getByLabel('Name of the program').fill('night log');
  await page.getByRole('button', { name: 'Add the token' }).click();
  const token = (await page.getByTestId('new-token').textContent()) ?? '';
  const asked = await service.send('GET', '/api/me', undefined, { authorization: `Bearer ${token}` });
  expect(asked).toMatchObject({ status: 200, body: { right: 'watch', device: { name: 'night log' } } });
  expect(await stateFaults(page, 'new token')).toEqual([]);
  await page.getByRole('button', { name: 'I have copied it' }).click();
  await page.reload();
  await page.getByTestId('token').waitFor();
  expect(await page.content()).not.toContain(token);
});

test('takes the access key once, and then a link downloads a file', async () => {
  const guarded = await startService({ source: 'simulator:steady', env: { STRANDWARD_ACCESS_KEY: KEY } });
  try {
    const { page } = await open(guarded.address);
    await page.getByText('With the access key').click();
    await page.getByLabel('Access key').fill('something-quite-else');
    await page.getByRole('button', { name: 'Pair with the key' }).click();
    await page.getByText('The access key is wrong.').waitFor();
    await page.getByLabel('Access key').fill(KEY);
    await page.getByRole('button', { name: 'Pair with the key' }).click();
    await page.getByTestId('diameter-now').waitFor();
    await page.goto(`${guarded.address}/devices`);
    await page.getByTestId('access-key').waitFor();
    // This browser, which is on the machine itself, has just had to pair.
    expect(await page.locator('.page-head').textContent()).toContain('on the machine itself has to be paired too');
    expect(await page.getByTestId('device').textContent()).toContain('this device');
    const withKey = { authorization: `Bearer ${KEY}` };
    await guarded.send('POST', '/api/stage', { stage: 'winding' }, withKey);
    const paired = async () => (await guarded.send('GET', '/api/devices', undefined, withKey)).body as DevicesView;
    await until(paired, ({ devices }) => devices.length === 1, 'one device');
    await page.goto(`${guarded.address}/spool`);
    const [download] = await Promise.all([page.waitForEvent('download'), page.getByTestId('export-csv').click()]);
    expect(download.suggestedFilename()).toBe('R1-1.csv');
  } finally {
    await guarded.remove();
  }
});
