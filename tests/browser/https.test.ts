/// <reference lib="dom" />
/** HTTPS by the authority of the house in a real browser that trusts it: what then works, and what it still refuses. */
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:https';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { Locator } from 'playwright-core';
import { afterAll, beforeAll, expect, test, vi } from 'vitest';
import { HouseAuthority } from '../../server/certificate/house-authority.ts';
import { namesOfThisMachine } from '../../server/certificate/house-names.ts';
import { newDataFolder, type RunningService, startService } from '../service/running-service.ts';
import { PHONE, startBrowser, startWithProfile, stateFaults, type TestBrowser } from './browser.ts';
import { PushService } from './push-service.ts';
import { PushToChromium } from './push-to-chromium.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

/** A name by which other devices know this machine: for the browser it is no loopback name. */
const NAME = namesOfThisMachine().find((name) => name.endsWith('.local')) ?? '';
const PUBLIC_NAME = 'line.example.com';
const RULES = `--host-resolver-rules=MAP ${NAME} 127.0.0.1, MAP ${PUBLIC_NAME} 127.0.0.1`;
/** A browser cannot isolate the origin of what came by HTTP, not even of a redirect, and says so. */
const ABOUT_HTTP = /Cross-Origin-Opener-Policy header has been ignored/;
let home: string;
let service: RunningService;
let browser: TestBrowser;
let authority: HouseAuthority;
let port: number;
beforeAll(async () => {
  home = mkdtempSync(join(tmpdir(), 'strandward-browser-'));
  const dataFolder = newDataFolder();
  service = await startService({ source: 'simulator:steady', dataFolder, args: ['--https', 'own-ca'] });
  port = Number(new URL(service.address).port);
  authority = HouseAuthority.in(join(dataFolder, 'authority'));
  // What a user does on the page of the certificate.
  const database = join(home, '.pki', 'nssdb');
  mkdirSync(database, { recursive: true });
  writeFileSync(join(home, 'house.crt'), authority.pem);
  execFileSync('certutil', ['-N', '--empty-password', '-d', `sql:${database}`]);
  execFileSync('certutil', ['-A', '-d', `sql:${database}`, '-n', 'house', '-t', 'C,,', '-i', join(home, 'house.crt')]);
  browser = await startBrowser(home, [RULES]);
});
afterAll(async () => {
  await browser?.close();
  await service?.remove();
  rmSync(home, { recursive: true });
});

/** A text as it is broken into lines. */
const linesOf = (text: Locator) =>
  text.evaluate((element) => {
    const lines = new Map<number, string>();
    const walker = document.createTreeWalker(element, NodeFilter.SHOW_TEXT);
    while (walker.nextNode()) {
      const node = walker.currentNode as Text;
      for (let at = 0; at < node.length; at++) {
        const range = document.createRange();
        range.setStart(node, at);
        range.setEnd(node, at + 1);
        const { top } = range.getBoundingClientRect();
        lines.set(top, (lines.get(top) ?? '') + node.data[at]);
      }
    }
    return [...lines.values()];
  });

test('the page of the certificate opens by HTTP, with its fingerprint and the steps for this device', async () => {
  const { page, complaints, close } = await browser.page({
    viewport: PHONE,
    userAgent: 'Mozilla/5.0 (Linux; Android 14) Mobile',
  });
  await page.goto(`http://${NAME}:${port}/certificate`);
  expect(await page.getByTestId('fingerprint').textContent()).toBe(authority.fingerprint);
  expect(service.output()).toContain(authority.fingerprint);
  // It is compared with another screen: a line that breaks within a pair of digits is easily misread.
  const lines = await linesOf(page.getByTestId('fingerprint'));
  expect(lines.filter((line) => !/^(?:[\dA-F]{2}:?)+$/.test(line))).toEqual([]);
  expect(await page.locator('details[open] > summary').allTextContents()).toEqual(['Android']);
  expect(await page.evaluate(() => isSecureContext)).toBe(false);
  const [download] = await Promise.all([page.waitForEvent('download'), page.getByTestId('certificate-file').click()]);
  expect(download.suggestedFilename()).toBe('strandward-house.crt');
  expect(await stateFaults(page, 'certificate')).toEqual([]);
  expect(complaints.filter((text) => !ABOUT_HTTP.test(text))).toEqual([]);
  await page.getByTestId('secure-page').click();
  await page.getByText('This device is not paired').waitFor();
  expect(page.url()).toBe(`https://${NAME}:${port}/`);
  await close();
});

test('a paired device watches by HTTPS, subscribes by one press, and shows what only it can decrypt', async ({
  onTestFinished,
}) => {
  const push = await new PushService().start();
  const signed = authority.issue(['localhost'], Date.now() - 3_600_000, Date.now() + 3_600_000);
  const pushToChromium = new PushToChromium(push, signed);
  const { page, complaints, close } = await startWithProfile(home, [RULES, ...(await pushToChromium.start())]);
  onTestFinished(async () => {
    await close();
    pushToChromium.stop();
    push.stop();
  });
  await page.context().grantPermissions(['notifications'], { origin: `https://${NAME}:${port}` });
  const { body } = await service.send('POST', '/api/invitations', { right: 'act' });
  expect(body.certificatePage).toMatch(/^http:.*\/certificate$/);
  // Typed without “https:”.
  await page.goto(`http://${NAME}:${port}/pair#${body.code}/phone`);
  await page.getByLabel('Name of this device').fill('phone with the certificate');
  await page.getByRole('button', { name: 'Pair this device' }).click();
  await page.waitForURL(`https://${NAME}:${port}/phone`);
  expect(await page.context().cookies()).toMatchObject([{ secure: true, httpOnly: true, sameSite: 'Strict' }]);

  // Chromium makes an address at its maker. What is sent there comes to the push service here instead.
  await page.route('**/api/phones', async (route) => {
    const phone = route.request().postDataJSON();
    const name = new URL(phone.settings.endpoint).pathname.split('/').at(-1)!;
    phone.settings.endpoint = push.addressOf(name);
    await route.continue({ postData: phone });
  });
  await page.getByLabel('Your name').fill('Ada');
  await page.getByRole('button', { name: 'Turn on notifications' }).click();
  const shown = () =>
    page.evaluate(async () => (await (await navigator.serviceWorker.ready).getNotifications()).map(({ body }) => body));
  const first = expect.stringMatching(/^This is alarm test 1: nothing is wrong/);
  await expect.poll(shown).toEqual([first]);
  expect(push.posted.map((posted) => posted.includes('alarm'))).toEqual([false]);
  await page.getByRole('button', { name: 'I got it' }).click();
  await page.getByText('Done: alarms reach Ada on this device.').waitFor();

  // What is not encrypted for it comes before the next message, and is not shown.
  const changed = Buffer.from(push.posted[0]!);
  changed[changed.length - 1]! ^= 1;
  push.forge(changed);
  await service.send('POST', '/api/drills');
  await expect.poll(shown).toEqual([first, expect.stringMatching(/^This is alarm test 2/)]);
  expect(push.subscribed).toBe(1);
  await page.getByRole('link', { name: 'Open the live page' }).click();
  await page.getByTestId('diameter-now').waitFor();
  expect(complaints.filter((text) => !ABOUT_HTTP.test(text) && !/401 \(Unauthorized\)/.test(text))).toEqual([]);
});

test('the browser refuses a public name, although the same authority signed it', async () => {
  const signed = authority.issue([PUBLIC_NAME, 'localhost'], Date.now() - 3_600_000, Date.now() + 3_600_000);
  const server = createServer(signed, (_, reply) => reply.end('imitated')).listen(0, '127.0.0.1');
  await new Promise((resolve) => server.once('listening', resolve));
  const { page, close } = await browser.page();
  const { port: other } = server.address() as { port: number };
  await expect(page.goto(`https://${PUBLIC_NAME}:${other}/`)).rejects.toThrow(/ERR_CERT_/);
  await close();
  server.close();
});
