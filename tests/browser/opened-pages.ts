import type { TestBrowser, WatchedPage } from './browser.ts';

/** The pages that one test has opened. Takes functions, because browser and service exist only once tests run. */
export class OpenedPages {
  #opened: WatchedPage[] = [];
  readonly #browser: () => TestBrowser;
  readonly #address: () => string;

  constructor(browser: () => TestBrowser, address: () => string) {
    this.#browser = browser;
    this.#address = address;
  }

  async open(path: string, options: Parameters<TestBrowser['page']>[0] = {}): Promise<WatchedPage> {
    const watched = await this.#browser().page(options);
    this.#opened.push(watched);
    await watched.page.goto(this.#address() + path);
    return watched;
  }

  /** Closes all pages and returns their complaints. */
  async close(): Promise<string[]> {
    const all = this.#opened;
    this.#opened = [];
    for (const { close } of all) await close();
    return all.flatMap(({ complaints }) => complaints);
  }
}
