import { messageOf } from '../problem/problem.ts';
import { capital } from '../problem/sentence.ts';
import { waitAtMost } from '../worker/wait-at-most.ts';
import { RateSearch } from './baud-rate-search.ts';
import type { Connection, Connector } from './connection.ts';
import { pause } from './pause.ts';
import type { LinkStatus, Source, SourceListener } from './source.ts';
import { endOf, OPEN_WITHIN_MS } from './time-limit.ts';

export interface ReconnectingOptions {
  /** After this time without bytes, the connection is closed and opened again. */
  readonly silenceMs: number;
  readonly firstPauseMs?: number;
  readonly longestPauseMs?: number;
  /** Time for which each baud rate is tried. */
  readonly rateTrialMs?: number;
}

const FIRST_PAUSE_MS = 250;
const LONGEST_PAUSE_MS = 5000;
const WATCH_TICKS = 5;

/**
 * A live source on any connection that can be lost:
 *
 *     open ────────────→ opened, bytes … ─→ lost or silent ─→ close ─┐
 *      ↑ └─ fails ─┐                                                 │
 *      ├── pause ←─┴─────────────────────────────────────────────────┘
 *      └── released ←── from anywhere, when another program is to use it
 *
 * Only one connection is open at a time. The pause grows from a quarter of a second to five seconds, and is short again
 * after bytes have arrived.
 */
export class ReconnectingSource implements Source {
  readonly timing = 'live';
  readonly resumable = true;
  readonly title: string;
  readonly baudRate?: number;
  readonly #connector: Connector;
  readonly #clock: () => number;
  readonly #options: ReconnectingOptions;
  #running: Promise<void> | null = null;
  #isStopping = false;
  /** Ends what the source does now: it opens, reads, pauses, or has released the connection. */
  #step = new AbortController();
  /** For how long the connection is to be released next, ms; null = it is to be used. */
  #releaseForMs: number | null = null;
  #isReleased = false;
  /** Called when the connection has been closed for another program. */
  #whenReleased: (() => void)[] = [];
  #connection: Connection | null = null;
  #search: RateSearch | null = null;

  constructor(connector: Connector, clock: () => number, options: ReconnectingOptions) {
    this.title = connector.title;
    if (connector.baudRate !== undefined) this.baudRate = connector.baudRate;
    this.#connector = connector;
    this.#clock = clock;
    this.#options = options;
  }

  start(listener: SourceListener): void {
    this.#running ??= this.#run(listener);
  }

  async stop(): Promise<void> {
    this.#isStopping = true;
    this.#step.abort();
    await endOf(this.#running);
  }

  release(forMs: number): Promise<void> {
    this.#releaseForMs = forMs;
    this.#step.abort();
    if (this.#running === null) return Promise.resolve();
    const released = new Promise<void>((resolve) => this.#whenReleased.push(resolve));
    return Promise.race([released, this.#running]);
  }

  resume(): void {
    // Ending any other step would close a connection that is in use, and opening it again resets many boards.
    if (!this.#isReleased && this.#releaseForMs === null) return;
    this.#releaseForMs = null;
    this.#step.abort();
  }

  async findRate(onTrial: (baud: number) => void): Promise<number | null> {
    const { baudRate } = this;
    const connection = this.#connection;
    if (connection?.setRate === undefined || baudRate === undefined || this.#search !== null) return null;
    const { rateTrialMs } = this.#options;
    const search = new RateSearch({
      baudRate,
      onTrial,
      setRate: (baud) => connection.setRate?.(baud) ?? Promise.resolve(),
      ...(rateTrialMs === undefined ? {} : { trialMs: rateTrialMs }),
    });
    this.#search = search;
    try {
      return await search.run();
    } finally {
      this.#search = null;
    }
  }

  async #run(listener: SourceListener): Promise<void> {
    const { place } = this.#connector;
    const { firstPauseMs = FIRST_PAUSE_MS, longestPauseMs = LONGEST_PAUSE_MS } = this.#options;
    const report = (phase: LinkStatus['phase'], text: string) => listener.status({ phase, text });
    let pauseMs = firstPauseMs;
    report('opening', `Opening ${place}.`);
    while (!this.#isStopping) {
      this.#step = new AbortController();
      const { signal } = this.#step;
      if (this.#releaseForMs !== null) {
        await this.#keepReleased(this.#releaseForMs, signal, listener);
        pauseMs = firstPauseMs;
        continue;
      }
      let reason: string;
      try {
        const connection = await waitAtMost(OPEN_WITHIN_MS, this.#connector.open(signal), (late) => void late.close());
        const end = await this.#read(connection, signal, listener);
        reason = sentence(`${capital(place)}: ${end.reason}`);
        if (end.receivedBytes) pauseMs = firstPauseMs;
      } catch (thrown) {
        reason = sentence(`Cannot open ${place}: ${messageOf(thrown)}`);
      }
      // Stopped, released or resumed: that is no failure to wait after.
      if (signal.aborted) continue;
      const text = `${reason} Trying again in ${seconds(pauseMs)}.`;
      listener.status({ phase: 'waiting', text, fault: reason });
      await pause(pauseMs, signal);
      pauseMs = Math.min(2 * pauseMs, longestPauseMs);
    }
    report('closed', `Closed ${place}.`);
  }

  /** Leave the connection to other programs for a while. */
  async #keepReleased(forMs: number, signal: AbortSignal, listener: SourceListener): Promise<void> {
    const { place } = this.#connector;
    this.#releaseForMs = null;
    this.#isReleased = true;
    const text = `Released ${place} to other programs for ${duration(forMs)}.`;
    listener.status({ phase: 'released', text, untilMs: this.#clock() + forMs });
    for (const resolve of this.#whenReleased.splice(0)) resolve();
    await pause(forMs, signal);
    this.#isReleased = false;
    if (this.#isStopping || this.#releaseForMs !== null) return;
    listener.status({ phase: 'opening', text: `Opening ${place} again.` });
  }

  /** Pass on what arrives until the connection ends, falls silent, or the source is stopped; then close it. */
  async #read(
    connection: Connection,
    signal: AbortSignal,
    listener: SourceListener,
  ): Promise<{ reason: string; receivedBytes: boolean }> {
    const watch = new SilenceWatch(this.#options.silenceMs);
    let reading = true;
    let receivedBytes = false;
    const stopped = whenAborted(signal);
    try {
      if (!signal.aborted) {
        this.#connection = connection;
        listener.opened();
        listener.status({ phase: 'open', text: `Reading from ${this.#connector.place}.` });
        connection.listen((chunk) => {
          if (!reading) return;
          receivedBytes = true;
          watch.reset();
          if (this.#search !== null) this.#search.bytes(chunk);
          else listener.bytes(chunk, this.#clock());
        });
      }
      const silent = watch.silent.then(() => {
        const what = receivedBytes ? 'nothing more arrived' : this.#connector.silence;
        return `${what} for ${seconds(this.#options.silenceMs)}, so it is opened again`;
      });
      const reason = await Promise.race([connection.lost, silent, stopped.done]);
      return { reason, receivedBytes };
    } finally {
      reading = false;
      this.#connection = null;
      this.#search?.stop();
      watch.stop();
      stopped.forget();
      await connection.close();
    }
  }
}

/**
 * Resolves when nothing has arrived for a while. It counts timer ticks instead of time, so that bytes that waited while the
 * process was blocked are not taken for silence.
 */
class SilenceWatch {
  readonly silent: Promise<void>;
  #ticks = 0;
  readonly #timer: NodeJS.Timeout;

  constructor(silenceMs: number) {
    let resolveSilent = () => {};
    this.silent = new Promise((resolve) => {
      resolveSilent = resolve;
    });
    this.#timer = setInterval(() => {
      this.#ticks++;
      if (this.#ticks >= WATCH_TICKS) resolveSilent();
    }, silenceMs / WATCH_TICKS);
  }

  reset(): void {
    this.#ticks = 0;
  }

  stop(): void {
    clearInterval(this.#timer);
  }
}

function whenAborted(signal: AbortSignal): { done: Promise<string>; forget(): void } {
  let forget = () => {};
  const done = new Promise<string>((resolve) => {
    const stop = () => resolve('it was stopped');
    if (signal.aborted) stop();
    signal.addEventListener('abort', stop);
    forget = () => signal.removeEventListener('abort', stop);
  });
  return { done, forget };
}

function duration(ms: number): string {
  return ms >= 60_000 && ms % 60_000 === 0 ? `${ms / 60_000} min` : seconds(ms);
}

function seconds(ms: number): string {
  return `${Number((ms / 1000).toFixed(2))} s`;
}

function sentence(text: string): string {
  return /[.?!]$/.test(text) ? text : `${text}.`;
}
