/// <reference lib="dom" />
/** The people page in a real browser: testing and adding a channel, adding a person, confirming an alarm test by link. */
import type { BrowserContextOptions } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, test, vi } from 'vitest';
import type { PeopleView } from '../../server/api/contract/people.ts';
import { HttpReceiver } from '../notify/http-receiver.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import {
  contrastFaults,
  PHONE,
  sharedBrowser,
  startBrowser,
  stateFaults,
  type TestBrowser,
  WITH_WINDOWS,
} from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

let service: RunningService;
let browser: TestBrowser;
let receiver: HttpReceiver;
const opened = new OpenedPages(
  () => browser,
  () => service.address,
);

const open = (path: string, options: BrowserContextOptions = {}) => opened.open(path, options);

beforeAll(async () => {
  receiver = await new HttpReceiver().start();
  [service, browser] = await Promise.all([
    startService({ source: 'simulator:evening', dataFolder: newDataFolder(), args: ['--log', 'warn'] }),
    sharedBrowser(),
  ]);
});
afterEach(async () => {
  // The browser logs each error answer. Those that a test provokes are not faults of the page.
  const faults = (await opened.close()).filter((text) => !/status of (400|422|502)/.test(text));
  expect(faults).toEqual([]);
});
afterAll(async () => {
  await browser?.close();
  await service?.remove();
  await receiver?.stop();
});

test('tests a channel before it is added, and reports faults at once', async () => {
  const { page } = await open('/people');
  await page.getByText('No one is notified of alarms').waitFor();
  await page.getByRole('button', { name: 'Add a chat or webhook' }).click();
  await page.getByLabel('Name').fill('Workshop chat');
  await page.getByLabel('Address', { exact: true }).fill(receiver.url);
  await page.getByLabel('Template').fill('{"text": "{{what}}"}');
  await page.getByRole('button', { name: 'Send a test' }).click();
  await page.getByText('The template has an unknown placeholder “what”.').waitFor();
  await page.getByLabel('Template').fill('');
  receiver.script.push({ status: 500 });
  await page.getByRole('button', { name: 'Send a test' }).click();
  await page.getByText('answered with status 500').waitFor();
  await page.getByRole('button', { name: 'Send a test' }).click();
  await page.getByText('The receiver accepted the test.').waitFor();
  expect(await stateFaults(page, 'channel form')).toEqual([]);
  await page.getByRole('button', { name: 'Add the channel' }).click();
  const channel = page.getByTestId('channel');
  await channel.waitFor();
  expect(await channel.textContent()).toMatch(/Workshop chat.*Webhook to 127\.0\.0\.1/);
  expect(await page.content()).not.toContain('t0psecret');
});

test('adds a person, who confirms an alarm test through the link in the message', async () => {
  const { page } = await open('/people', { viewport: PHONE });
  await page.getByRole('button', { name: 'Add a person or group' }).click();
  const name = page.getByLabel('Name');
  await name.fill('x'.repeat(500));
  await page.getByRole('button', { name: 'Add', exact: true }).click();
  await page.getByText(/Give at most 60 characters/).waitFor();
  expect(await name.inputValue()).toHaveLength(500);
  await name.fill('Ada');
  expect(await stateFaults(page, 'person form on a phone')).toEqual([]);
  await page.getByRole('button', { name: 'Add', exact: true }).click();
  await page.getByText('Ada is notified at once.').waitFor();
  await page.getByLabel('Address of this page').fill(service.address);
  await page.getByRole('button', { name: 'Save the rules' }).click();
  await page.getByText('Saved.').waitFor();
  receiver.received.length = 0;
  await page.getByRole('button', { name: 'Start an alarm test' }).click();
  await page.getByText(/Waiting for Ada/).waitFor();
  await until(
    () => receiver.received.length,
    (n) => n > 0,
    'the message',
  );
  expect(await stateFaults(page, 'people on a phone')).toEqual([]);
  expect(await contrastFaults(page, 'people on a phone', 'dark')).toEqual([]);

  const phone = await open(new URL(receiver.bodies[0].data.link).pathname, { viewport: PHONE });
  await phone.page.getByRole('heading', { name: 'Alarm test' }).waitFor();
  expect(await stateFaults(phone.page, 'answer page')).toEqual([]);
  // Opening the link does not answer, because chat services open every link.
  expect((await service.get<PeopleView>('/api/people')).drills[0]!.outcome).toBe('waiting');
  await phone.page.getByRole('button', { name: 'I got it' }).click();
  await phone.page.getByText('Confirmed.').waitFor();
  await page.getByText('Everyone was reached: Ada.').waitFor();
});

test('reports a failing channel on the live page, too', async () => {
  receiver.otherwise = { status: 503 };
  const { id, name } = (await service.get<PeopleView>('/api/people')).channels[0]!;
  const settings = { kind: 'webhook', url: '', secret: '', template: '' };
  expect((await service.send('POST', '/api/channels/test', { id, name, settings })).status).toBe(502);
  const { page } = await open('/');
  const note = page.getByTestId('reach-note');
  await note.waitFor();
  expect(await note.textContent()).toMatch(/“Workshop chat” delivers no messages.*status 503/);
  // More would push the strand off a phone: a line for each of two, and a count of the others.
  const brokers: number[] = [];
  for (const name of ['Broker 1', 'Broker 2']) {
    const settings = {
      kind: 'mqtt',
      address: 'mqtt://127.0.0.1:1',
      user: '',
      password: '',
      certificate: '',
      baseTopic: name,
    };
    const added = await service.send('POST', '/api/channels', { name, settings });
    brokers.push((added.body as { id: number }).id);
  }
  await note.getByText('And 1 more problem.').waitFor();
  expect(await note.getByRole('listitem').allTextContents()).toEqual([
    '“Workshop chat” delivers no messages.',
    '“Broker 1” delivers no messages.',
  ]);
  for (const broker of brokers) await service.send('DELETE', `/api/channels/${broker}`);
  await note.getByRole('link', { name: 'Fix it' }).click();
  await page.getByTestId('trouble').waitFor();
  receiver.otherwise = { status: 204 };
  await page.getByRole('button', { name: 'Send a test over Workshop chat' }).click();
  await page.getByTestId('trouble').waitFor({ state: 'detached' });
});

test('can be installed, and its service worker shows pushed messages', async () => {
  const { page } = await open('/people');
  const manifest = await page.evaluate(async () => {
    const link = document.querySelector<HTMLLinkElement>('link[rel=manifest]')!;
    return (await fetch(link.href)).json();
  });
  expect(manifest).toMatchObject({ name: 'Strandward', display: 'standalone', start_url: '/' });
  for (const { src } of manifest.icons) expect((await fetch(service.address + src)).status).toBe(200);
  const active = await page.evaluate(async () => {
    await navigator.serviceWorker.register('/service-worker.js');
    return (await navigator.serviceWorker.ready).active?.scriptURL;
  });
  expect(active).toBe(`${service.address}/service-worker.js`);
});

test('shows a pushed message at once, and adds its picture silently', async ({ onTestFinished }) => {
  const windowed = await startBrowser(undefined, [], WITH_WINDOWS);
  onTestFinished(() => windowed.close());
  const { page } = await windowed.page({ permissions: ['notifications'] });
  await page.goto(`${service.address}/people`);
  const inspector = await page.context().newCDPSession(page);
  const registered = new Promise<string>((resolve) => {
    inspector.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => {
      const own = registrations.find(({ scopeURL }) => scopeURL.startsWith(service.address));
      if (own) resolve(own.registrationId);
    });
  });
  await inspector.send('ServiceWorker.enable');
  await page.evaluate(async () => {
    await navigator.serviceWorker.register('/service-worker.js');
    await navigator.serviceWorker.ready;
  });
  const registrationId = await registered;
  const push = (fields: object) =>
    inspector.send('ServiceWorker.deliverPushMessage', {
      origin: service.address,
      registrationId,
      data: JSON.stringify({
        title: 'Blob',
        body: 'At 2.93 m.',
        tag: 'alarm-1',
        path: '/answer/x',
        priority: 'high',
        ...fields,
      }),
    });
  const shown = () =>
    page.evaluate(async () => {
      const all = (await (await navigator.serviceWorker.ready).getNotifications()) as (Notification & {
        image?: string;
      })[];
      return all.map((one) => ({
        title: one.title,
        body: one.body,
        tag: one.tag,
        silent: one.silent,
        requireInteraction: one.requireInteraction,
        path: one.data.path,
        image: one.image ?? '',
      }));
    });
  const one = { title: 'Blob', body: 'At 2.93 m.', tag: 'alarm-1', requireInteraction: true, path: '/answer/x' };
  // A missing picture does not delay the message.
  await push({ picture: '/api/answers/none/picture' });
  await expect.poll(shown, { timeout: 10_000 }).toEqual([{ ...one, silent: false, image: '' }]);
  // Any picture will do here.
  await push({ picture: '/icon-192.png' });
  await expect
    .poll(shown, { timeout: 10_000 })
    .toEqual([{ ...one, silent: true, image: expect.stringMatching(/^data:image\/png;base64,iVBORw0KGgo/) }]);
});
