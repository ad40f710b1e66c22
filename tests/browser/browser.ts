import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { type BrowserContextOptions, chromium, type Page } from 'playwright-core';

const CHROMIUM = ['/usr/bin/chromium', '/usr/bin/chromium-browser'];

export const DESKTOP = { width: 1440, height: 900 };
export const PHONE = { width: 390, height: 844 };

export interface WatchedPage {
  readonly page: Page;
  /** Errors on the console, uncaught ones, and breaches of the content security policy. */
  readonly complaints: string[];
  close(): Promise<void>;
}

export interface TestBrowser {
  /** A page with an empty profile of its own. */
  page(options?: BrowserContextOptions): Promise<WatchedPage>;
  close(): Promise<void>;
}

/** Debian's Chromium without a window. It runs as whoever runs the tests, root too, hence without its sandbox. */
export async function startBrowser(): Promise<TestBrowser> {
  const executablePath = CHROMIUM.find((path) => existsSync(path));
  if (executablePath === undefined) {
    throw new Error('The browser tests need Chromium: install it with apt-get install -y chromium');
  }
  const home = mkdtempSync(join(tmpdir(), 'strandward-browser-'));
  const browser = await chromium.launch({
    executablePath,
    args: [
      '--no-sandbox',
      '--disable-gpu',
      '--disable-quic',
      '--no-first-run',
      '--disable-background-networking',
      '--disable-component-update',
      '--disable-sync',
    ],
    env: { ...(process.env as Record<string, string>), HOME: home, TZ: 'UTC' },
  });
  return {
    page: async (options = {}) => {
      const context = await browser.newContext({ viewport: DESKTOP, ...options });
      context.setDefaultTimeout(10_000);
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
    },
    close: async () => {
      await browser.close();
      rmSync(home, { recursive: true, force: true });
    },
  };
}

/** Complaints that do not merely say that a service, which the test itself has ended, is not there. */
export const withoutLostService = (complaints: readonly string[]): string[] =>
  complaints.filter(
    (text) =>
      !/ERR_CONNECTION_(REFUSED|RESET)|ERR_EMPTY_RESPONSE|WebSocket connection to|The service does not answer/.test(
        text,
      ),
  );
