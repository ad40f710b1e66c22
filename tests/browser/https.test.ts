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
import { HttpReceiver } from '../notify/http-receiver.ts';
import { PushReceiver } from '../notify/push-receiver.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { PHONE, startBrowser, stateFaults, type TestBrowser, WITH_WINDOWS } from './browser.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

/** A name by which other devices know this machine: for the browser it is no loopback name. */
const NAME = namesOfThisMachine().find((name) => name.endsWith('.local')) ?? '';
const PUBLIC_NAME = 'line.example.com';
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
  const rules = `--host-resolver-rules=MAP ${NAME} 127.0.0.1, MAP ${PUBLIC_NAME} 127.0.0.1`;
  browser = await startBrowser(home, [rules], WITH_WINDOWS);
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

test('a paired device watches by HTTPS, and its service worker shows what the service pushes', async () => {
  const { body } = await service.send('POST', '/api/invitations', { right: 'manage' });
  expect(body.certificatePage).toMatch(/^http:.*\/certificate$/);
  const { page, complaints, close } = await browser.page({ permissions: ['notifications'] });
  // Typed without “https:”.
  await page.goto(`http://${NAME}:${port}/pair#${body.code}`);
  await page.getByLabel('Name of this device').fill('phone with the certificate');
  await page.getByRole('button', { name: 'Pair this device' }).click();
  await page.getByTestId('diameter-now').waitFor();
  expect(page.url()).toBe(`https://${NAME}:${port}/`);
  expect(await page.context().cookies()).toMatchObject([{ secure: true, httpOnly: true, sameSite: 'Strict' }]);
  const inspector = await page.context().newCDPSession(page);
  const origin = `https://${NAME}:${port}`;
  const registered = new Promise<string>((resolve) => {
    inspector.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => {
      const own = registrations.find(({ scopeURL }) => scopeURL.startsWith(origin));
      if (own) resolve(own.registrationId);
    });
  });
  await inspector.send('ServiceWorker.enable');
  const ready = await page.evaluate(async () => {
    await navigator.serviceWorker.register('/service-worker.js');
    await navigator.serviceWorker.ready;
    return {
      secure: isSecureContext,
      push: 'PushManager' in window,
      permission: await Notification.requestPermission(),
    };
  });
  expect(ready).toEqual({ secure: true, push: true, permission: 'granted' });

  // Only the browser maker's service can hand out an address to push to. Our own receiver stands in for it: it decrypts what
  // the service sends with the keys of the subscription, and the browser gets it the way it would from there.
  const pushService = await new HttpReceiver().start();
  pushService.otherwise = { status: 201 };
  const receiver = new PushReceiver();
  const sent = await page.evaluate(
    async (settings) => {
      const body = JSON.stringify({ id: null, name: 'phone', settings });
      const headers = { 'content-type': 'application/json' };
      return (await fetch('/api/channels/test', { method: 'POST', headers, body })).status;
    },
    { kind: 'push', endpoint: pushService.url, ...receiver.keys },
  );
  expect(sent).toBe(204);
  const data = receiver.decrypt(pushService.received[0]?.body ?? Buffer.alloc(0)).toString();
  await inspector.send('ServiceWorker.deliverPushMessage', { origin, registrationId: await registered, data });
  const shown = () =>
    page.evaluate(async () => (await (await navigator.serviceWorker.ready).getNotifications()).map(({ body }) => body));
  expect(await until(shown, (list) => list.length > 0, 'the notification')).toEqual([JSON.parse(data).body]);
  await pushService.stop();
  expect(complaints.filter((text) => !ABOUT_HTTP.test(text) && !/401 \(Unauthorized\)/.test(text))).toEqual([]);
  await close();
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
