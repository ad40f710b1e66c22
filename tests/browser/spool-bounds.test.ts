/// <reference lib="dom" />
/** Correcting the start of a spool, and splitting it where it was changed, in a real browser. */
import type { Locator, Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, test, vi } from 'vitest';
import type { RunDetail } from '../../server/api/contract/runs-and-spools.ts';
import type { RunningService } from '../service/running-service.ts';
import { windRecording } from '../service/wound-recording.ts';
import { contrastFaults, PHONE, sharedBrowser, stateFaults, type TestBrowser } from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const LENGTH_MM = 30_000;
const PANEL = 'form[aria-labelledby=bounds-title]';

let service: RunningService;
let browser: TestBrowser;
const opened = new OpenedPages(
  () => browser,
  () => service.address,
);

/** The last 1.2 m are between gauge and winder. A blob passes at 9 m. */
function* recording(): Generator<string> {
  for (let mm = 0; mm <= LENGTH_MM; mm += 2) {
    const usualMm = mm >= 9000 && mm < 9030 ? 2.1 : 1.75;
    yield `ms=${mm * 10} d=${(usualMm + ((mm * 7919) % 1009) / 1e5).toFixed(4)} t1=195 s1=195 v=100 len=${mm}`;
  }
}

beforeAll(async () => {
  [service, browser] = await Promise.all([windRecording(recording()), sharedBrowser()]);
});
afterEach(async () => {
  // The browser logs each error answer. Those that a test provokes are not faults of the page.
  expect((await opened.close()).filter((text) => !/status of 400/.test(text))).toEqual([]);
});
afterAll(async () => {
  await browser?.close();
  await service?.remove();
});

const spools = async () => (await service.get<RunDetail>('/api/runs/1')).spools;

test('corrects the start of a spool at the cursor, updates open pages, and undoes it with one press', async () => {
  const { page } = await opened.open('/spool/1');
  const before = (await spools())[0]!;
  await page.getByTestId('ribbon').focus();
  for (let i = 0; i < 5; i++) await page.keyboard.press('ArrowRight');
  const cursorMm = Number(await page.getByTestId('ribbon').getAttribute('aria-valuenow'));
  expect(cursorMm).toBeGreaterThan(10);
  await page.getByRole('button', { name: 'Correct where the spool starts' }).click();
  const panel = page.getByRole('form', { name: 'Where this spool starts' });
  expect(Math.abs(Number(await panel.getByLabel('Starts at').inputValue()) * 1000 - cursorMm)).toBeLessThanOrEqual(1);
  await panel.getByLabel('Starts at').fill('2.5');
  await panel.getByText('The first 2.500 m is not on it').waitFor();
  expect(await stateFaults(page, 'beginning', PANEL)).toEqual([]);
  expect(await contrastFaults(page, 'beginning', 'dark', PANEL)).toEqual([]);
  await panel.getByRole('button', { name: 'Save' }).click();
  await page.getByText('The spool starts 2.500 m later.').waitFor();
  expect((await spools())[0]!.woundMm).toBeCloseTo(before.woundMm - 2500, 1);
  const aria = () => page.getByTestId('ribbon').getAttribute('aria-valuemax');
  await expect.poll(aria).toBe(String(Math.round(before.woundMm - 2500)));
  // Another open page follows, although its spool was wound long ago.
  const other = (await opened.open('/spool/1')).page;
  const otherMax = () => other.getByTestId('ribbon').getAttribute('aria-valuemax');
  await expect.poll(otherMax).toBe(String(Math.round(before.woundMm - 2500)));
  await page.getByRole('button', { name: 'Undo' }).click();
  await expect.poll(otherMax).toBe(String(Math.round(before.woundMm)));
  await expect.poll(aria).toBe(String(Math.round(before.woundMm)));
  expect((await spools())[0]!.startedMs).toBe(before.startedMs);
});

/** The editor covers the ribbon, is wholly on the screen, and leaves the pressed place visible above it. */
const isNextTo = async (page: Page, panel: Locator): Promise<boolean> => {
  const [cursor, over] = await Promise.all([page.locator('.ribbon .cursor').boundingBox(), panel.boundingBox()]);
  return cursor!.y > 0 && cursor!.y + cursor!.height <= over!.y && over!.y + over!.height <= PHONE.height;
};

/** Nothing above it has moved it for ten frames. */
const isAtRest = (place: Locator): Promise<boolean> =>
  place.evaluate(async (node) => {
    const before = node.getBoundingClientRect().top;
    for (let i = 0; i < 10; i++) await new Promise(requestAnimationFrame);
    return node.getBoundingClientRect().top === before;
  });

test('opens the editor clear of the pressed place, and does not press it with the same tap', async () => {
  const { page } = await opened.open('/spool/1', { viewport: PHONE, hasTouch: true, isMobile: true });
  const flag = page.locator('.mark .flag').first();
  await flag.evaluate((node) => scrollBy(0, node.getBoundingClientRect().top - innerHeight + 200));
  await expect.poll(() => isAtRest(flag)).toBe(true);
  const { x, y } = (await flag.boundingBox())!;
  await page.touchscreen.tap(x + 2, y + 20);
  const editor = page.getByRole('form', { name: 'Adjust: blob' });
  await expect.poll(() => isNextTo(page, editor)).toBe(true);
  // The click that a browser makes of a tap follows soon, if at all.
  await page.waitForTimeout(500);
  expect(await editor.evaluate((form) => form.contains(document.activeElement))).toBe(false);
  expect(await editor.isVisible()).toBe(true);
});

test('refuses an impossible start with a clear error, and splits a spool on the phone after a second press', async () => {
  const { page } = await opened.open('/spool/1', { viewport: PHONE, hasTouch: true });
  await page.getByRole('button', { name: 'Correct where the spool starts' }).click();
  const panel = page.getByRole('form', { name: 'Where this spool starts' });
  // The panel covers the ribbon. A press on a row sets the place, and the row scrolls out from under the panel.
  const row = page.locator('[data-row="4"] .row-strand');
  await row.scrollIntoViewIfNeeded();
  const { x, y, width, height } = (await row.boundingBox())!;
  await page.touchscreen.tap(x + width / 2, y + height / 2);
  const rowMm = Number(await page.getByTestId('ribbon').getAttribute('data-row-mm'));
  await expect
    .poll(async () => Number(await panel.getByLabel('Starts at').inputValue()))
    .toBeCloseTo(4.5 * (rowMm / 1000), 1);
  await expect.poll(() => isNextTo(page, panel)).toBe(true);
  await panel.getByRole('radio', { name: 'It starts earlier' }).check();
  await panel.getByLabel('Earlier by').fill('400');
  await panel.getByRole('button', { name: 'Save' }).click();
  await panel.getByText(/cannot start 400\.00 m earlier/).waitFor();
  expect(await stateFaults(page, 'refused beginning', PANEL)).toEqual([]);
  await panel.getByRole('radio', { name: 'It was changed' }).check();
  await panel.getByLabel('Changed at').fill('12');
  await panel.getByText('Spool 1 ends there, 12.000 m long.').waitFor();
  await panel.getByRole('button', { name: 'Split into two spools' }).dblclick();
  expect(await spools()).toHaveLength(1);
  // Another place, or opening the form again, requires two presses again.
  await panel.getByLabel('Changed at').fill('11');
  await panel.getByRole('button', { name: 'Split into two spools' }).click();
  await panel.getByRole('button', { name: 'Cancel' }).click();
  await page.getByRole('button', { name: 'Correct where the spool starts' }).click();
  await panel.getByRole('radio', { name: 'It was changed' }).check();
  await panel.getByLabel('Changed at').fill('');
  await panel.getByText('Enter a place on the spool').waitFor();
  expect(await panel.getByLabel('Changed at').inputValue()).toBe('');
  await panel.getByLabel('Changed at').fill('12');
  await panel.getByRole('button', { name: 'Split into two spools' }).click();
  // Longer than a double press.
  await page.waitForTimeout(700);
  await panel.getByRole('button', { name: 'Yes, split it for good' }).click();
  await page.getByText('The strand after 12.000 m is now spool 2.').waitFor();
  const [first, second] = await spools();
  expect(first!.woundMm).toBeCloseTo(12_000, 1);
  expect(second!.startGaugeMm).toBeCloseTo(first!.startGaugeMm + 12_000, 1);
  // The first spool is no longer the last of its run, and the form has none of its earlier entries.
  await page.getByRole('button', { name: 'Correct where the spool starts' }).click();
  expect(await panel.getByRole('radio', { name: 'It was changed' }).count()).toBe(0);
});
