/// <reference lib="dom" />
/** Import and export of runs in a real browser: a recorded log becomes a run, and a run travels as a file. */
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import type { BrowserContextOptions } from 'playwright-core';
import { afterAll, afterEach, beforeAll, expect, test, vi } from 'vitest';
import type { RunView } from '../../server/api/contract/runs-and-spools.ts';
import { DATABASE_FILE } from '../../server/store/database.ts';
import { newDataFolder, type RunningService, startService, until } from '../service/running-service.ts';
import { contrastFaults, holdAnswers, PHONE, sharedBrowser, stateFaults, type TestBrowser } from './browser.ts';
import { OpenedPages } from './opened-pages.ts';

vi.setConfig({ testTimeout: 150_000, hookTimeout: 120_000 });

const folder = mkdtempSync(join(tmpdir(), 'import-export-'));
let service: RunningService;
let browser: TestBrowser;
const opened = new OpenedPages(
  () => browser,
  () => service.address,
);

const open = (path: string, options: BrowserContextOptions = {}) => opened.open(path, options);

function file(name: string, content: string | Uint8Array): string {
  const path = join(folder, name);
  writeFileSync(path, content);
  return path;
}

const BARE = Array.from({ length: 21 }, (_, i) => `${(1.75 + (i % 7) / 1000).toFixed(3)},35,200.${i % 3},200\n`);
const bare = (lines: number) => `d,v,t1,s1\n${BARE.join('').repeat(Math.ceil(lines / BARE.length))}`;

beforeAll(async () => {
  [service, browser] = await Promise.all([
    startService({ source: 'simulator:evening', dataFolder: newDataFolder(), args: ['--log', 'warn'] }),
    sharedBrowser(),
  ]);
});
afterEach(async () => {
  // The browser logs each error answer. Those that a test provokes are not faults of the page.
  const faults = (await opened.close()).filter((text) => !/status of 422/.test(text));
  expect(faults).toEqual([]);
});
afterAll(async () => {
  await browser?.close();
  await service?.remove();
  rmSync(folder, { recursive: true });
});

test('imports a recorded log as a run: uploads, dates, judges and opens it', async () => {
  const { page } = await open('/runs');
  await page.locator('#log-file').setInputFiles(file('bench.log', bare(4000)));
  const form = page.getByTestId('log-form');
  await form.getByText('They contain no times.').waitFor();
  expect(await stateFaults(page, 'log form')).toEqual([]);
  expect(await contrastFaults(page, 'log form', 'dark')).toEqual([]);
  const start = page.getByLabel('Started');
  const reckoned = await start.inputValue();
  await page.getByLabel('Lines a second').fill('20');
  // At a lower rate the log lasts longer, so it started earlier, unless the user enters a time.
  await expect.poll(() => start.inputValue()).not.toBe(reckoned);
  await start.fill('2021-02-03T20:15:00');
  await form.getByRole('button', { name: 'Import as a run' }).click();
  const link = page.getByTestId('log-import').getByRole('link', { name: /^run \d+$/ });
  await link.waitFor({ timeout: 100_000 });
  const id = Number((await link.getAttribute('href'))!.split('/').at(-1));
  // The list above shows it without a reload.
  await page.locator(`[data-testid=run][data-run="${id}"]`).waitFor();
  await link.click();
  await page.getByText('3 February 2021').waitFor();
  const run = (await service.get<RunView[]>('/api/runs')).find((one) => one.id === id)!;
  expect(run.endedMs! - run.startedMs).toBeGreaterThan(190_000);

  // As if the clock of the machine had been set during the run, which takes ten minutes of real time.
  const db = new Sqlite(join(service.dataFolder, DATABASE_FILE));
  db.prepare('UPDATE run SET clock_ahead_s = 86400, date_settled = 0 WHERE id = ?').run(id);
  db.close();
  await page.reload();
  await page.getByText('The date of this run is wrong').waitFor();
  expect(await stateFaults(page, 'wrong date')).toEqual([]);
  await page.getByRole('button', { name: /^Move it to .*4 February/ }).click();
  await page.getByRole('button', { name: 'Move it back' }).waitFor();
  await page.getByText('4 February 2021').waitFor();
  const startedMs = async () => (await service.get<RunView[]>('/api/runs')).find((one) => one.id === id)!.startedMs;
  expect(await startedMs()).toBe(run.startedMs + 86_400_000);
  await page.getByRole('button', { name: 'Move it back' }).click();
  await page.getByText('Its date was kept').waitFor();
  await page.getByText('3 February 2021').waitFor();
  expect(await startedMs()).toBe(run.startedMs);

  // Making an example takes seconds, so this run passes for one.
  await page.route('**/api/runs*', async (route) => {
    const response = await route.fetch();
    const runs = (await response.json()) as RunView[];
    await route.fulfill({ response, json: runs.map((one) => ({ ...one, example: one.id === id })) });
  });
  await page.goto(`${service.address}/runs`);
  const row = page.locator(`[data-testid=run][data-run="${id}"]`);
  await row.getByText('Example').waitFor();
  await page.getByRole('button', { name: 'Remove the examples' }).click();
  await row.waitFor({ state: 'detached' });
  await page.getByRole('button', { name: 'Undo' }).click();
  await row.waitFor();
});

test('shows the progress of an import also to users who open the page later, and stops it from there', async () => {
  const first = await open('/runs');
  // Long enough to be still under way when a slow browser presses the button.
  await first.page.locator('#log-file').setInputFiles(file('long.log', bare(5_000_000)));
  await first.page.getByRole('button', { name: 'Import as a run' }).click();
  await first.page.getByText(/^Judging long\.log: /).waitFor();
  const second = await open('/runs', { viewport: PHONE, hasTouch: true });
  await second.page.getByText(/^Judging long\.log: /).waitFor();
  expect(await stateFaults(second.page, 'replaying')).toEqual([]);
  await second.page.getByRole('button', { name: 'Cancel' }).click();
  await second.page.getByRole('button', { name: 'Import a recorded log' }).waitFor();
  await first.page.getByRole('button', { name: 'Import a recorded log' }).waitFor();
  expect(await service.get('/api/recording')).toBe(null);
});

test('refuses files that are not a log or an archive with a clear error, and accepts the next one', async () => {
  const { page } = await open('/runs');
  await page.getByText('Import a run or a log…').click();
  const photo = file('cat.jpg', Buffer.concat([Buffer.from('ffd8ffe0', 'hex'), Buffer.alloc(5000)]));
  await page.locator('#log-file').setInputFiles(photo);
  await page.getByText('cat.jpg could not be imported. It is a photo (JPEG).').waitFor();
  expect(await stateFaults(page, 'refused log')).toEqual([]);
  await page.locator('#import-run').setInputFiles(photo);
  await page.getByText(/^This file cannot be imported as a run/).waitFor();
  await page.locator('#log-file').setInputFiles(file('small.log', bare(500)));
  await page.getByTestId('log-form').waitFor();
  expect(await page.getByText('It is a photo').count()).toBe(0);
  await page.getByRole('button', { name: 'Discard the log' }).click();
  await page.getByRole('button', { name: 'Import a recorded log' }).waitFor();
});

test('exports a whole run with its note and imports it again', async () => {
  const ended = await until(
    () => service.get<RunView[]>('/api/runs'),
    (runs) => runs.some(({ endedMs }) => endedMs !== null),
    'a run has ended',
  );
  const { id } = ended.find(({ endedMs }) => endedMs !== null)!;
  await service.send('PUT', `/api/runs/${id}/note`, { note: 'goes on a journey' });
  const { page } = await open('/printers');
  const release = await holdAnswers(page, '**/alarm-load');
  await page.goto(`${service.address}/runs/${id}`);
  const exportLink = page.getByText('Export the whole run');
  await exportLink.waitFor();
  await page.waitForFunction(() => !/Fetching|Judging/.test(document.body.textContent ?? ''));
  const topPx = async () => (await exportLink.boundingBox())!.y;
  const before = await topPx();
  release();
  await page.getByTestId('alarm-figures').waitFor({ state: 'attached' });
  expect(await topPx()).toBe(before);
  const coming = page.waitForEvent('download');
  await exportLink.click();
  const download = await coming;
  const path = join(folder, download.suggestedFilename());
  expect(download.suggestedFilename()).toBe(`R${id}.strandward-run`);
  await download.saveAs(path);
  await page.goto(`${service.address}/runs`);
  await page.getByText('Import a run or a log…').click();
  await page.locator('#import-run').setInputFiles(path);
  await page.getByText(`This run is already here as run ${id}.`).waitFor();
  await page.getByRole('button', { name: 'Import it as another run' }).click();
  await page.waitForURL(/\/runs\/\d+$/);
  expect(page.url()).not.toBe(`${service.address}/runs/${id}`);
  await expect.poll(() => page.locator('.note textarea').inputValue(), { timeout: 30_000 }).toBe('goes on a journey');
});
