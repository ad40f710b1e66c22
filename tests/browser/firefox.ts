import { type ChildProcess, spawn } from 'node:child_process';
import { once } from 'node:events';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { createInterface } from 'node:readline';
import WebSocket from 'ws';
import { until } from '../service/running-service.ts';

const PROGRAM = '/usr/bin/firefox-esr';
const ANSWER_WITHIN_MS = 60_000;

type Setting = string | number | boolean;

/** What the page has printed as an error. */
interface LogEntry {
  readonly level: string;
  readonly text: string | null;
}

/** A tab or window. */
interface Opened {
  /** By which Firefox knows it. */
  readonly context: string;
  readonly url: string;
}

/**
 * Debian's Firefox without a window, driven by WebDriver BiDi (https://www.w3.org/TR/webdriver-bidi/), which it speaks
 * without another program.
 */
export class Firefox {
  readonly #child: ChildProcess;
  readonly #socket: WebSocket;
  readonly #waiting = new Map<number, { resolve(result: never): void; reject(error: Error): void }>();
  #tab = '';
  #lastId = 0;
  /** Console errors and uncaught errors, in the order in which they came. */
  readonly complaints: string[] = [];

  private constructor(child: ChildProcess, socket: WebSocket) {
    this.#child = child;
    this.#socket = socket;
    socket.on('message', (data) => this.#take(JSON.parse(String(data))));
    socket.on('close', () => {
      for (const { reject } of this.#waiting.values()) reject(new Error('Firefox has closed the connection.'));
      this.#waiting.clear();
    });
  }

  /** @param profile folder of the profile, with the certificates that it trusts */
  static async start(profile: string, settings: Readonly<Record<string, Setting>>): Promise<Firefox> {
    const lines = Object.entries(settings).map(([name, value]) => `user_pref("${name}", ${JSON.stringify(value)});\n`);
    writeFileSync(join(profile, 'user.js'), lines.join(''));
    const child = spawn(
      PROGRAM,
      [
        '--headless',
        '--remote-allow-system-access',
        '--no-remote',
        '--profile',
        profile,
        '--remote-debugging-port',
        '0',
      ],
      {
        stdio: ['ignore', 'ignore', 'pipe'],
        env: { ...process.env, HOME: profile, TZ: 'UTC' },
      },
    );
    process.once('exit', () => child.kill('SIGKILL'));
    const address = await new Promise<string>((resolve, reject) => {
      const printed: string[] = [];
      createInterface({ input: child.stderr! }).on('line', (line) => {
        printed.push(line);
        const [, found] = /listening on (ws:\S+)/.exec(line) ?? [];
        if (found !== undefined) resolve(found);
      });
      child.once('error', reject);
      child.once('exit', (code) => reject(new Error(`Firefox ended with ${code}: ${printed.join('\n')}`)));
    });
    const socket = new WebSocket(`${address}/session`);
    await once(socket, 'open');
    const firefox = new Firefox(child, socket);
    await firefox.#send('session.new', { capabilities: {} });
    await firefox.#send('session.subscribe', { events: ['log.entryAdded'] });
    firefox.#tab = (await firefox.#tree({}))[0]!.context;
    return firefox;
  }

  /** One command. @throws Error with what Firefox says about it */
  #send<Result = unknown>(method: string, params: object): Promise<Result> {
    this.#lastId += 1;
    const id = this.#lastId;
    return new Promise<Result>((resolve, reject) => {
      const late = setTimeout(() => {
        this.#waiting.delete(id);
        reject(new Error(`Firefox did not answer ${method}.`));
      }, ANSWER_WITHIN_MS);
      const ended =
        <Value>(then: (value: Value) => void) =>
        (value: Value) => {
          clearTimeout(late);
          then(value);
        };
      this.#waiting.set(id, { resolve: ended(resolve), reject: ended(reject) });
      this.#socket.send(JSON.stringify({ id, method, params }));
    });
  }

  /** Opens an address in the one tab, and waits until it is loaded. */
  async open(url: string): Promise<void> {
    await this.#send('browsingContext.navigate', { context: this.#tab, url, wait: 'complete' });
  }

  /** What an expression comes to, by way of JSON; a promise is awaited. It counts as the user's own doing. */
  async evaluate<Value>(expression: string, context = this.#tab): Promise<Value> {
    const answer = await this.#send<{ type: string; result?: { value: string }; exceptionDetails?: { text: string } }>(
      'script.evaluate',
      {
        expression: `(async () => JSON.stringify((await (${expression})) ?? null))()`,
        target: { context },
        awaitPromise: true,
        userActivation: true,
      },
    );
    // An error in the page is an answer, too.
    if (answer.type !== 'success') throw new Error(`${answer.exceptionDetails?.text}, in ${expression}`);
    return JSON.parse(answer.result!.value) as Value;
  }

  /** Waits until statements in the page return true. */
  async once(what: string, statements: string, context?: string): Promise<void> {
    const look = () =>
      this.evaluate<boolean>(`(() => { ${statements} })()`, context).catch((thrown: Error) => {
        // The page was just being replaced by another one.
        if (/destroyed|discarded|no such frame/.test(thrown.message)) return false;
        throw thrown;
      });
    await until(look, (done) => done, what);
  }

  /** Closes every tab but one, which then shows nothing. */
  async closePages(): Promise<void> {
    for (const { context } of await this.tabs()) {
      if (context !== this.#tab) await this.#send('browsingContext.close', { context });
    }
    await this.open('about:blank');
  }

  tabs(): Promise<readonly Opened[]> {
    return this.#tree({});
  }

  /** The windows in which Firefox shows notifications, each to be evaluated in; newest last. */
  async notificationWindows(): Promise<readonly string[]> {
    const all = await this.#tree({ 'moz:scope': 'chrome' });
    const windows = all.filter(({ url }) => url === 'chrome://global/content/alerts/alert.xhtml');
    const filled = `(document.getElementById('alertTitleLabel')?.value ?? '') !== ''`;
    const ready = await Promise.all(windows.map(({ context }) => this.evaluate<boolean>(filled, context)));
    return windows.filter((_, at) => ready[at]).map(({ context }) => context);
  }

  async #tree(params: object): Promise<readonly Opened[]> {
    return (await this.#send<{ contexts: Opened[] }>('browsingContext.getTree', params)).contexts;
  }

  async close(): Promise<void> {
    const ended = once(this.#child, 'exit');
    this.#child.kill();
    await ended;
  }

  #take(message: {
    readonly id?: number;
    readonly type: string;
    readonly result?: never;
    readonly error?: string;
    readonly message?: string;
    readonly params?: LogEntry;
  }): void {
    if (message.type === 'event') {
      if (message.params?.level === 'error') this.complaints.push(String(message.params.text));
      return;
    }
    const waiting = this.#waiting.get(message.id ?? -1);
    this.#waiting.delete(message.id ?? -1);
    if (message.type === 'success') waiting?.resolve(message.result!);
    else waiting?.reject(new Error(`${message.error}: ${message.message}`));
  }
}
