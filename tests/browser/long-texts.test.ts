/// <reference lib="dom" />
/** Texts that are longer than usual: a path that is far wider than a phone, and the longest label on the picture of the strand. */
import { afterAll, afterEach, beforeAll, expect, test, vi } from 'vitest';
import { pictureFrame } from '../../web/strand-view/picture-frame.ts';
import { newDataFolder, type RunningService, startService } from '../service/running-service.ts';
import { PHONE, sharedBrowser, stateFaults, type TestBrowser } from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

vi.setConfig({ testTimeout: 60_000, hookTimeout: 120_000 });

const PORT = `/dev/serial/by-id/${'usb_microcontroller_with_a_long_name_'.repeat(4)}`;

let service: RunningService;
let browser: TestBrowser;
const opened = new OpenedPages(
  () => browser,
  () => service.address,
);

beforeAll(async () => {
  [service, browser] = await Promise.all([
    startService({ source: `serial:${PORT}`, dataFolder: newDataFolder(), args: ['--log', 'error'] }),
    sharedBrowser(),
  ]);
});
afterEach(async () => expect(await opened.close()).toEqual([]));
afterAll(async () => {
  await browser?.close();
  await service?.remove();
});

test.each([
  ['a phone', { viewport: PHONE }],
  ['a desktop', {}],
])('a long path wraps on %s', async (where, options) => {
  const { page } = await opened.open('/', options);
  await page.getByTestId('alarm').getByText(PORT).waitFor();
  expect(await page.getByTestId('sentence').textContent()).toContain(PORT);
  expect(await stateFaults(page, where)).toEqual([]);
});

test.each([
  ['a phone', PHONE, 'winder in 120 s'],
  ['a desktop', { width: 1366, height: 900 }, 'reaches the winder in 120 s'],
])('the longest label on the strand has room on its right on %s', async (_where, viewport, arrival) => {
  const { page } = await opened.open('/', { viewport });
  await page.locator('.callouts').waitFor({ state: 'attached' });
  const { calloutWidth } = pictureFrame(viewport.width, viewport.height, null);
  const room = await page.evaluate(
    ([width, arrival]) => {
      const list = document.querySelector('.callouts')!;
      const what = '<strong>Possible thin spot 1.480 mm</strong>';
      const countdown = `<span class="countdown">${arrival}</span>`;
      list.innerHTML = `<li class="callout"><svg class="shape" width="18" height="18"></svg><span>${what} ${countdown}</span></li>`;
      const label = list.querySelector('li')!;
      label.style.width = `${width}px`;
      return label.getBoundingClientRect().right - label.querySelector('span')!.getBoundingClientRect().right;
    },
    [calloutWidth, arrival] as const,
  );
  expect(room).toBeGreaterThanOrEqual(8);
});
