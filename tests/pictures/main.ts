/// <reference lib="dom" />
/**
 * Takes the pictures of the README from the running simulator, in light and dark: the live page with a blob on its way to
 * the winder, and the spool of an example night. Takes about two minutes.
 */
import { writeFileSync } from 'node:fs';
import { fileURLToPath } from 'node:url';
import type { Page } from 'playwright-core';
import type { LiveState } from '../../server/api/contract/live-state.ts';
import type { RunDetail, RunView } from '../../server/api/contract/runs-and-spools.ts';
import { startBrowser, type TestBrowser } from '../browser/browser.ts';
import { type RunningService, startService, until } from '../service/running-service.ts';

// Run as built, from .build/tests/pictures/.
const FOLDER = fileURLToPath(new URL('../../../.github/', import.meta.url));
const SCREEN = { width: 1280, height: 800 };
const QUALITY = 0.8;
/** Every example must be there, and the first blob of the evening comes after one and a half minutes. */
const WITHIN_MS = 240_000;

/** The picture as WebP, which only the browser can encode: a fifth of the size of its PNG. */
async function webpOf(page: Page): Promise<Buffer> {
  const png = (await page.screenshot()).toString('base64');
  const url = await page.evaluate(
    async ([data, quality]) => {
      const image = new Image();
      image.src = `data:image/png;base64,${data}`;
      await image.decode();
      const canvas = document.createElement('canvas');
      canvas.width = image.width;
      canvas.height = image.height;
      canvas.getContext('2d')?.drawImage(image, 0, 0);
      return canvas.toDataURL('image/webp', quality);
    },
    [png, QUALITY] as const,
  );
  return Buffer.from(url.slice(url.indexOf(',') + 1), 'base64');
}

async function takePicture(browser: TestBrowser, address: string, name: string, ready: string): Promise<void> {
  const schemes = ['light', 'dark'] as const;
  await Promise.all(
    schemes.map(async (colorScheme) => {
      const { page, close } = await browser.page({ viewport: SCREEN, colorScheme, bypassCSP: true });
      await page.goto(address);
      await page.locator(ready).first().waitFor();
      await page.waitForLoadState('networkidle').catch(() => {});
      const picture = await webpOf(page);
      writeFileSync(`${FOLDER}${name}-${colorScheme}.webp`, picture);
      process.stdout.write(`${name}-${colorScheme}.webp: ${(picture.length / 1000).toFixed(0)} kB\n`);
      await close();
    }),
  );
}

async function takeAll(service: RunningService, browser: TestBrowser): Promise<void> {
  const { address } = service;
  const onItsWay = ({ sections }: LiveState) =>
    sections.some(({ kind, reachesWinderInS: inS }) => kind === 'blob' && inS !== null && inS > 12 && inS < 30);
  await until(() => service.get<LiveState>('/api/state'), onItsWay, 'a blob on its way to the winder', WITHIN_MS);
  await takePicture(browser, address, 'live', '[data-testid=countdown]');
  const isMade = (all: readonly RunView[]) => all.filter(({ example }) => example).length === 3;
  const runs = await until(() => service.get<RunView[]>('/api/runs'), isMade, 'the example nights', WITHIN_MS);
  const oldest = runs.filter(({ example }) => example).at(-1);
  const { spools } = await service.get<RunDetail>(`/api/runs/${oldest?.id}`);
  await takePicture(browser, `${address}/spool/${spools[0]?.id}`, 'spool', '[data-testid=cross-section]');
}

const service = await startService({ source: 'simulator:evening', env: { STRANDWARD_EXAMPLES: 'on' } });
const browser = await startBrowser();
try {
  await takeAll(service, browser);
} finally {
  await browser.close();
  await service.remove();
}
