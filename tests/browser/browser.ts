/// <reference lib="dom" />
// Parts of this file run in the page.
import { existsSync, mkdirSync } from 'node:fs';
import { join } from 'node:path';
import { fileURLToPath } from 'node:url';
import { AxeBuilder } from '@axe-core/playwright';
import {
  type BrowserContext,
  type BrowserContextOptions,
  chromium,
  type LaunchOptions,
  type Page,
} from 'playwright-core';
import { IS_LONG_CHECK } from '../long-check.ts';

/** Only this one shows the messages of a service worker. */
export const WITH_WINDOWS = ['/usr/bin/chromium', '/usr/bin/chromium-browser'];
/** The first one is the same browser without its windows: opening a page takes it a third of the processor time. */
const CHROMIUM = ['/usr/bin/chromium-headless-shell', ...WITH_WINDOWS];

/** The browser's home folder. Benches, which run built, use the same one. */
const HOME = fileURLToPath(
  new URL(import.meta.url.includes('/.build/') ? '../../browser-home' : '../../.build/browser-home', import.meta.url),
);

export const DESKTOP = { width: 1440, height: 900 };
export const PHONE = { width: 390, height: 844 };

export interface WatchedPage {
  readonly page: Page;
  /** Console errors, uncaught errors, and violations of the content security policy. */
  readonly complaints: string[];
  close(): Promise<void>;
}

export interface TestBrowser {
  /** Opens a page with an empty profile, for somebody who wants little motion: without a graphics card, motion costs most. */
  page(options?: BrowserContextOptions): Promise<WatchedPage>;
  close(): Promise<void>;
}

/**
 * The browser of all test files in this process, because starting one costs more than most tests. Every page has its own
 * profile, so that test files do not affect each other. `close` does nothing; the browser ends with the process.
 */
export async function sharedBrowser(): Promise<TestBrowser> {
  shared ??= startBrowser();
  const { page } = await shared;
  return { page, close: async () => {} };
}
let shared: Promise<TestBrowser> | null = null;

/**
 * Starts Debian's Chromium without a window. It has no sandbox, so that root can run the tests too.
 * @param home of the browser, with the certificates that it trusts
 * @param programs of which the first that is installed is started
 */
export async function startBrowser(
  home = HOME,
  moreArgs: readonly string[] = [],
  programs = CHROMIUM,
): Promise<TestBrowser> {
  const browser = await chromium.launch(launched(home, moreArgs, programs));
  return {
    page: async (options = {}) => {
      const context = await browser.newContext({ viewport: DESKTOP, reducedMotion: 'reduce', ...options });
      return watched(context);
    },
    close: () => browser.close(),
  };
}

/** One page, in a profile that is kept, as a user has it: only such a page may subscribe to notifications. */
export async function startWithProfile(home: string, moreArgs: readonly string[]): Promise<WatchedPage> {
  return watched(await chromium.launchPersistentContext(join(home, 'profile'), launched(home, moreArgs, WITH_WINDOWS)));
}

async function watched(context: BrowserContext): Promise<WatchedPage> {
  context.setDefaultTimeout(30_000);
  const page = await context.newPage();
  const complaints: string[] = [];
  page.on('console', (message) => {
    if (message.type() === 'error') complaints.push(`${message.text()} (${message.location().url})`);
  });
  page.on('pageerror', (error) => complaints.push(`uncaught: ${error.message}`));
  await page.addInitScript(() => {
    document.addEventListener('securitypolicyviolation', (event) => {
      console.error(`content security policy: ${event.violatedDirective} ${event.blockedURI}`);
    });
  });
  return { page, complaints, close: () => context.close() };
}

function launched(home: string, moreArgs: readonly string[], programs: readonly string[]): LaunchOptions {
  const executablePath = programs.find((path) => existsSync(path));
  if (executablePath === undefined) {
    throw new Error('The browser tests need Chromium: install it with apt-get install -y chromium-headless-shell');
  }
  mkdirSync(home, { recursive: true });
  return {
    executablePath,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
      // Fewer processes: opening a page takes a third less processor time.
      '--renderer-process-limit=1',
      '--in-process-gpu',
      '--enable-features=NetworkServiceInProcess2',
      ...moreArgs,
    ],
    env: { ...(process.env as Record<string, string>), HOME: home, TZ: 'UTC' },
  };
}

/** Keeps the service's answers to matching requests from the page until the returned function is called. */
export async function holdAnswers(page: Page, pattern: string): Promise<() => void> {
  let release = () => {};
  const released = new Promise<void>((resolve) => {
    release = resolve;
  });
  await page.route(pattern, async (route) => {
    try {
      // The service may just be closing the connection that was kept open.
      const response = await route.fetch({ maxRetries: 3 });
      await released;
      await route.fulfill({ response });
    } catch (thrown) {
      // The page has aborted the request, or is closed.
      if (!page.isClosed() && !/abort|disposed|closed/i.test(String(thrown))) throw thrown;
    }
  });
  // The route stays, because removing it while it holds a request would send that request again.
  return release;
}

/** Complaints other than those about a service that the test itself has stopped. */
export const withoutLostService = (complaints: readonly string[]): string[] =>
  complaints.filter(
    (text) =>
      !/ERR_CONNECTION_(REFUSED|RESET|CLOSED)|ERR_EMPTY_RESPONSE|ERR_CONTENT_LENGTH_MISMATCH|ERR_INCOMPLETE_CHUNKED_ENCODING|WebSocket connection to|The service does not answer/.test(
        text,
      ),
  );

/**
 * Serious faults of the page by WCAG 2.2 AA, and whether it is wider than the screen.
 * @param within the part to examine, if the rest is examined elsewhere
 */
export async function pageFaults(page: Page, where: string, within = 'html'): Promise<string[]> {
  const faults = await axeFaults(page, where, (axe) => axe.include(within).withTags(STANDARDS));
  return [...faults, ...(await widthFaults(page, where))];
}

/** The same for a state within a page, where a commit is not kept waiting for the serious faults. */
export const stateFaults: typeof pageFaults = (page, where, within) =>
  IS_LONG_CHECK ? pageFaults(page, where, within) : widthFaults(page, where);

/** What makes the page wider than the screen. */
async function widthFaults(page: Page, where: string): Promise<string[]> {
  const { wide, width, sticking } = await page.evaluate(() => {
    const width = document.documentElement.clientWidth;
    const sticking = [...document.querySelectorAll('body *')]
      .filter((node) => node.getBoundingClientRect().right > width)
      .map((node) => `${node.localName}.${node.getAttribute('class')} “${node.textContent?.slice(0, 30)}”`);
    return { wide: document.documentElement.scrollWidth, width, sticking: sticking.join(', ') };
  });
  return wide > width ? [`${where} scrolls sideways: ${wide} px in ${width} px; beyond it lie ${sticking}`] : [];
}

/** Width at which a page must still fit without scrolling sideways, CSS px: WCAG 2.2, 1.4.10 (reflow). */
const REFLOW_PX = 320;

/** Whether the page fits at 200 %, which is a screen of half as many CSS px. Only before a release. */
export async function zoomFaults(page: Page, where: string): Promise<string[]> {
  if (!IS_LONG_CHECK) return [];
  const size = page.viewportSize()!;
  await page.setViewportSize({ width: Math.max(REFLOW_PX, size.width / 2), height: size.height / 2 });
  // Drawings follow in the next picture.
  await page.evaluate(() => new Promise((resolve) => requestAnimationFrame(() => requestAnimationFrame(resolve))));
  const faults = await widthFaults(page, `${where} at 200 %`);
  await page.setViewportSize(size);
  return faults;
}

/** The most that a page may move while it arrives: cumulative layout shift, of which web.dev calls up to 0.1 good. */
const SHIFT_MAX = 0.02;

/** What has moved since the page was opened, without anyone having pressed anything. */
export async function shiftFaults(page: Page, where: string): Promise<string[]> {
  const shifts = await page.evaluate(async () => {
    interface Shift extends PerformanceEntry {
      readonly value: number;
      readonly hadRecentInput: boolean;
      readonly sources: readonly { readonly node: Element | null }[];
    }
    const entries = await new Promise<PerformanceEntryList>((resolve) => {
      // Without any shift the observer is not called.
      setTimeout(() => resolve([]), 100);
      new PerformanceObserver((list) => resolve(list.getEntries())).observe({ type: 'layout-shift', buffered: true });
    });
    return (entries as Shift[])
      .filter(({ hadRecentInput }) => !hadRecentInput)
      .map(({ value, sources }) => ({
        value,
        moved: sources.map(({ node }) => `${node?.nodeName}.${node?.className ?? ''}`).join(' '),
      }));
  });
  const sum = shifts.reduce((all, { value }) => all + value, 0);
  if (sum <= SHIFT_MAX) return [];
  return [`${where} moves by ${sum.toFixed(3)}: ${shifts.map(({ value, moved }) => `${value.toFixed(3)} ${moved}`)}`];
}

/** Size that a thumb can hit: WCAG 2.2, 2.5.5 (level AAA). Links within a sentence are excepted there. */
const THUMB_PX = 44;

/** Controls that are smaller than a thumb. An explanation mark beside a word counts as a part of its sentence. */
export async function thumbFaults(page: Page, where: string): Promise<string[]> {
  const small = await page.evaluate((least) => {
    const controls =
      'button, select, textarea, summary, .switch label, a.button, input:not([type=radio], [type=checkbox], [type=file])';
    return [...document.querySelectorAll<HTMLElement>(controls)].flatMap((node) => {
      if (!node.checkVisibility({ visibilityProperty: true }) || node.matches('.term-mark, .visually-hidden'))
        return [];
      const { width, height } = node.getBoundingClientRect();
      // What a pseudo-element adds around it can be pressed too.
      const around = getComputedStyle(node, '::after');
      const [wide, high] =
        around.position === 'absolute' ? [parseFloat(around.width), parseFloat(around.height)] : [0, 0];
      if (Math.max(width, wide) >= least - 0.5 && Math.max(height, high) >= least - 0.5) return [];
      return [
        `${node.localName}.${node.className} “${node.textContent?.trim().slice(0, 30)}” ${Math.round(width)} × ${Math.round(height)}`,
      ];
    });
  }, THUMB_PX);
  return small.map((one) => `${where}: ${one}`);
}

const STANDARDS = ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'];

/** Contrast faults in a second colour scheme, for a page that was fully examined in the first. Only before a release. */
export async function contrastFaults(
  page: Page,
  where: string,
  colorScheme: 'dark' | 'light',
  within = 'html',
): Promise<string[]> {
  if (!IS_LONG_CHECK) return [];
  const before = await page.evaluate(() => (matchMedia('(prefers-color-scheme: dark)').matches ? 'dark' : 'light'));
  await page.emulateMedia({ colorScheme });
  const faults = await axeFaults(page, `${where}, ${colorScheme}`, (axe) =>
    axe.include(within).withRules(['color-contrast']),
  );
  await page.emulateMedia({ colorScheme: before });
  return faults;
}

async function axeFaults(page: Page, where: string, rules: (axe: AxeBuilder) => AxeBuilder): Promise<string[]> {
  const faults: string[] = [];
  // Legacy mode does not open a second page for the results. It skips frames of other origins, which we have none of.
  const { violations } = await rules(
    new AxeBuilder({ page }).setLegacyMode().options({ resultTypes: ['violations'] }),
  ).analyze();
  for (const { id, impact, nodes } of violations) {
    if (impact !== 'serious' && impact !== 'critical') continue;
    const places = nodes.slice(0, 3).map((node) => node.target.join(' '));
    faults.push(`${where} ${id}: ${places.join(', ')}. ${nodes[0]?.failureSummary?.replaceAll('\n', ' ')}`);
  }
  return faults;
}
