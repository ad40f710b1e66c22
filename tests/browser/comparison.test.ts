/** Comparison of runs in a real browser: selecting, comparing and regrouping them. */
import type { BrowserContextOptions } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, test, vi } from 'vitest';
import { openStore } from '../../server/store/index.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { keepRun } from '../store/kept-run.ts';
import { contrastFaults, DESKTOP, PHONE, sharedBrowser, stateFaults, type TestBrowser } from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

vi.setConfig({ testTimeout: 120_000, hookTimeout: 120_000 });

const START_MS = 1_750_000_000_000;
const DAY_MS = 86_400_000;

let service: RunningService;
/** Has the same runs, with fewer blobs. */
let garage: RunningService;
let browser: TestBrowser;
const opened = new OpenedPages(
  () => browser,
  () => service.address,
);
const open = (path: string, options: BrowserContextOptions = {}) => opened.open(path, options);

/** Runs 1 and 3 dried for 4 h, 2 and 4 for 8 h. @param factor of the distance between blobs */
async function lineWithRuns(factor: number): Promise<RunningService> {
  const dataFolder = newDataFolder();
  const store = openStore({ folder: dataFolder });
  for (let i = 0; i < 4; i++) {
    keepRun(store, {
      startMs: START_MS + i * DAY_MS,
      lengthMm: 30_000,
      lot: { name: 'Moss supports', preparation: i % 2 === 0 ? 'sorted, dried 4 h' : 'sorted, dried 8 h', values: {} },
      blobsEveryMm: factor * (i % 2 === 0 ? 2000 + i * 50 : 9000),
    });
  }
  await store.close();
  return startService({ source: 'tcp:127.0.0.1:9', dataFolder, args: ['--log', 'silent'] });
}

beforeAll(async () => {
  [service, garage, browser] = await Promise.all([lineWithRuns(1), lineWithRuns(3), sharedBrowser()]);
});
afterEach(async () => {
  expect(await opened.close()).toEqual([]);
});
afterAll(async () => {
  await browser?.close();
  await Promise.all([service?.remove(), garage?.remove()]);
});

test('selects two runs by keyboard and shows the differences first', async () => {
  const { page } = await open('/runs/1');
  await page.getByRole('link', { name: 'Compare with other runs' }).click();
  const first = page.getByRole('checkbox', { name: /Run 1,/ });
  await first.waitFor();
  expect(await first.isChecked()).toBe(true);
  expect(await page.getByRole('button', { name: 'Choose at least two' }).isDisabled()).toBe(true);
  expect(await stateFaults(page, 'choosing')).toEqual([]);
  await page.getByRole('checkbox', { name: /Run 2,/ }).focus();
  await page.keyboard.press('Space');
  await page.getByRole('button', { name: 'Compare 2 runs' }).focus();
  await page.keyboard.press('Enter');
  await page.waitForURL('**/compare/1/2');
  const conclusion = page.getByTestId('conclusion');
  await conclusion.waitFor();
  const text = (await conclusion.textContent())!.replaceAll('\u00a0', ' ');
  expect(text).toContain('Different: drying time 8 h in run 2, 4 h in run 1.');
  expect(text).toMatch(/Blobs and thin spots: 1\d in 100 m in run 2, 50 in 100 m in run 1/);
  expect(text).toContain('one run of each does not show that this came from');
});

test('shows the numbers of each chart in a table', async () => {
  const { page } = await open('/compare/1/2');
  const lumps = page.locator('[data-measure=blobsAndNecks]');
  await lumps.waitFor();
  await lumps.locator('summary').click();
  await lumps.locator('tbody tr').first().waitFor();
  expect(await lumps.locator('tbody tr').count()).toBe(2);
  expect(await lumps.locator('tbody tr').first().textContent()).toMatch(/run 1, group A50 \(\d+ to \d+\)/);
  const drawings = await page.locator('.compare svg[role=img]').count();
  expect(await page.locator('.compare-measure .chart-table').count()).toBe(drawings - 2);
  expect(await page.locator('.compare-shapes .chart-table').count()).toBe(1);
});

test('groups runs with the same description, and can move them to another group', async () => {
  const { page } = await open('/compare');
  for (const run of [1, 2, 3, 4]) await page.getByRole('checkbox', { name: new RegExp(`Run ${run},`) }).check();
  await page.getByRole('button', { name: 'Compare 4 runs' }).click();
  await page.waitForURL('**/compare/1,3/2,4');
  await page.getByText('all A').first().waitFor();
  await page.getByText('The runs and their groups').click();
  await page.getByLabel('Group of run 4').selectOption('C');
  await page.waitForURL('**/compare/1,3/2/4');
  await page.goBack();
  await page.waitForURL('**/compare/1,3/2,4');
});

test.each([
  ['dark', 'phone', PHONE],
  ['light', 'desktop', DESKTOP],
] as const)('has no serious WCAG 2.2 AA violations: %s, %s', async (colorScheme, _device, viewport) => {
  const { page } = await open('/compare/1,3/2,4', { colorScheme, viewport });
  await page.getByTestId('conclusion').waitFor();
  for (const summary of await page.locator('.compare summary').all()) await summary.click();
  expect(await stateFaults(page, 'side by side')).toEqual([]);
  const other = colorScheme === 'dark' ? 'light' : 'dark';
  expect(await contrastFaults(page, 'side by side', other)).toEqual([]);
});

test('prints without controls', async () => {
  const { page } = await open('/compare/1/2');
  await page.getByTestId('conclusion').waitFor();
  await page.emulateMedia({ media: 'print' });
  expect(await page.getByLabel('Group of run 1').isVisible()).toBe(false);
  expect(await page.getByRole('link', { name: 'Choose other runs' }).isVisible()).toBe(false);
  expect(await page.getByTestId('conclusion').isVisible()).toBe(true);
  // A chart wider than the sheet would lose its right end.
  await page.setViewportSize({ width: 680, height: 960 });
  const wide = await page
    .locator('.compare svg')
    .evaluateAll((all) => all.filter((one) => one.getBoundingClientRect().right > 680).length);
  expect(wide).toBe(0);
});

test('reports a run that does not exist', async () => {
  const { page, complaints } = await open('/compare/1/99');
  await page.getByText('There is no run 99.').waitFor();
  // The browser logs the refused request.
  expect(complaints.splice(0).filter((text) => !/status of 404/.test(text))).toEqual([]);
});

describe('with another line', () => {
  let id: number;
  beforeAll(async () => {
    await service.send('PUT', '/api/settings', { lineName: 'Bench' });
    await garage.send('PUT', '/api/settings', { lineName: 'Garage' });
    const { token } = (await garage.send('POST', '/api/tokens', { name: 'front', right: 'watch' })).body;
    id = (await service.send('POST', '/api/lines', { address: garage.address, watchToken: token })).body.id;
    await until(
      () => service.get<{ name: string }[]>('/api/lines'),
      ([line]) => line?.name === 'Garage',
      'its name',
    );
  });

  test('runs of both are chosen on a phone, and the line may be the cause', async () => {
    const { page } = await open('/compare/1', { viewport: PHONE, colorScheme: 'dark' });
    const line = page.getByTestId('runs-of-line').filter({ hasText: 'Garage' });
    await line.locator('summary').click();
    await line.getByRole('checkbox', { name: /Run 2,/ }).check();
    await line.getByText('Garage: 1 chosen').waitFor();
    expect(await stateFaults(page, 'choosing runs of two lines')).toEqual([]);
    const compare = page.getByRole('button', { name: 'Compare 2 runs' });
    const [button, pages] = await Promise.all([compare, page.locator('.pages')].map((one) => one.boundingBox()));
    // It stays in reach of the thumb, and the navigation does not cover it.
    expect(button!.y + button!.height).toBeLessThanOrEqual(pages!.y);
    await compare.click();
    await page.waitForURL(`**/compare/1/${id}:2`);
    const conclusion = page.getByTestId('conclusion');
    await conclusion.waitFor();
    const text = (await conclusion.textContent())!.replaceAll('\u00a0', ' ');
    expect(text).toContain('Different: line “Garage” in run 2 of Garage, “Bench” in run 1 of Bench; drying time 8 h');
    expect(text).toContain('Run 2 of Garage was not wound on the same line as run 1 of Bench');
    for (const summary of await page.locator('.compare summary').all()) await summary.click();
    expect(await stateFaults(page, 'two lines compared')).toEqual([]);
    // Names of lines would be cut off beside the axis.
    const outside = await page
      .locator('.compare-measure .plot-text')
      .evaluateAll((all) => all.filter((one) => one.getBoundingClientRect().left < 0).length);
    expect(outside).toBe(0);
    expect(await page.getByRole('link', { name: 'Run 2 of Garage' }).getAttribute('href')).toBe(
      `${garage.address}/runs/2`,
    );
  });

  test('groups hold runs of both, and a run can be moved', async () => {
    const { page } = await open(`/compare/1,3,${id}:1/2,${id}:2,${id}:4`, { viewport: DESKTOP });
    await page.getByText('all A').first().waitFor();
    await page.getByText('Groups that share a line are compared within it.').waitFor();
    await page.getByText('The runs and their groups').click();
    await page.getByLabel('Group of run 4 of Garage').selectOption('C');
    await page.waitForURL(`**/compare/1,3,${id}:1/2,${id}:2/${id}:4`);
    expect(await stateFaults(page, 'groups of two lines')).toEqual([]);
  });

  test('what is missing is named, also when the line has gone', async () => {
    const { page } = await open(`/compare/1/2/${id}:77`);
    await page.getByText('Without run 77 of Garage: There is no run 77.').waitFor();
    await page.getByTestId('conclusion').waitFor();
    await garage.kill();
    await page.goto(`${service.address}/compare/1/2/${id}:1`);
    await page.getByText('Without run 1 of Garage: Nothing answers at').waitFor();
    await page.goto(`${service.address}/compare`);
    const line = page.getByTestId('runs-of-line').nth(1);
    await line.locator('summary').click();
    await line.getByText(/Nothing answers at/).waitFor();
    await page.getByRole('checkbox', { name: /Run 1,/ }).check();
    expect(await stateFaults(page, 'choosing without a line')).toEqual([]);
    // The browser logs the refused request.
    expect((await opened.close()).filter((text) => !/status of 502/.test(text))).toEqual([]);
  });
});
