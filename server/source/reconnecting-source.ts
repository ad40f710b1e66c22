import { messageOf } from '../problem/problem.ts';
import { capital } from '../problem/sentence.ts';
import type { Connection, Connector } from './connection.ts';
import { pause } from './pause.ts';
import type { LinkStatus, Source, SourceListener } from './source.ts';

export interface ReconnectingOptions {
  /** An open connection that brings nothing for so long is closed and opened again. */
  readonly silenceMs: number;
  readonly firstPauseMs?: number;
  readonly longestPauseMs?: number;
}

const FIRST_PAUSE_MS = 250;
const LONGEST_PAUSE_MS = 5000;
const WATCH_TICKS = 5;

/**
 * A live source on any connection that can be lost:
 *
 *     open ──────────────→ opened, bytes … ─→ lost, or nothing comes ─→ close ─┐
 *      ↑ └─ cannot ─┐                                                          │
 *      └── pause ←──┴──────────────────────────────────────────────────────────┘
 *
 * One connection at a time: the next is opened only when the last has been closed. The pause grows from a quarter of a
 * second to five, and is short again once bytes have come.
 */
export class ReconnectingSource implements Source {
  readonly timing = 'live';
  readonly resumable = true;
  readonly title: string;
  readonly #connector: Connector;
  readonly #clock: () => number;
  readonly #options: ReconnectingOptions;
  readonly #stopping = new AbortController();
  #running: Promise<void> | null = null;

  constructor(connector: Connector, clock: () => number, options: ReconnectingOptions) {
    this.title = connector.title;
    this.#connector = connector;
    this.#clock = clock;
    this.#options = options;
  }

  start(listener: SourceListener): void {
    this.#running ??= this.#run(listener);
  }

  async stop(): Promise<void> {
    this.#stopping.abort();
    await this.#running;
  }

  async #run(listener: SourceListener): Promise<void> {
    const { place } = this.#connector;
    const { firstPauseMs = FIRST_PAUSE_MS, longestPauseMs = LONGEST_PAUSE_MS } = this.#options;
    const signal = this.#stopping.signal;
    const say = (phase: LinkStatus['phase'], text: string) => listener.status({ phase, text });
    let pauseMs = firstPauseMs;
    say('opening', `Opening ${place}.`);
    while (!signal.aborted) {
      let why: string;
      try {
        const connection = await this.#connector.open(signal);
        const end = await this.#hear(connection, listener);
        why = sentence(`${capital(place)}: ${end.why}`);
        if (end.brought) pauseMs = firstPauseMs;
      } catch (thrown) {
        why = sentence(`Cannot open ${place}: ${messageOf(thrown)}`);
      }
      if (signal.aborted) break;
      say('waiting', `${why} Trying again in ${seconds(pauseMs)}.`);
      await pause(pauseMs, signal);
      pauseMs = Math.min(2 * pauseMs, longestPauseMs);
    }
    say('closed', `Closed ${place}.`);
  }

  /** Hand over what comes until the connection ends, falls silent, or the source is stopped; then close it. */
  async #hear(connection: Connection, listener: SourceListener): Promise<{ why: string; brought: boolean }> {
    const signal = this.#stopping.signal;
    const watch = new SilenceWatch(this.#options.silenceMs);
    let hearing = true;
    let brought = false;
    const stopped = whenAborted(signal);
    try {
      if (!signal.aborted) {
        listener.opened();
        listener.status({ phase: 'open', text: `Reading from ${this.#connector.place}.` });
        connection.listen((chunk) => {
          if (!hearing) return;
          brought = true;
          watch.heard();
          listener.bytes(chunk, this.#clock());
        });
      }
      const silent = watch.silent.then(() => {
        const what = brought ? 'nothing more came' : this.#connector.silence;
        return `${what} for ${seconds(this.#options.silenceMs)}, so it is opened again`;
      });
      const why = await Promise.race([connection.lost, silent, stopped.done]);
      return { why, brought };
    } finally {
      hearing = false;
      watch.stop();
      stopped.forget();
      await connection.close();
    }
  }
}

/**
 * Tells when nothing has been heard for a while. Counts its own ticks rather than time, so that a process that was held up
 * (and found its bytes waiting afterwards) does not take that for silence.
 */
class SilenceWatch {
  readonly silent: Promise<void>;
  #ticks = 0;
  readonly #timer: NodeJS.Timeout;

  constructor(silenceMs: number) {
    let tell = () => {};
    this.silent = new Promise((resolve) => {
      tell = resolve;
    });
    this.#timer = setInterval(() => {
      this.#ticks++;
      if (this.#ticks >= WATCH_TICKS) tell();
    }, silenceMs / WATCH_TICKS);
  }

  heard(): void {
    this.#ticks = 0;
  }

  stop(): void {
    clearInterval(this.#timer);
  }
}

function whenAborted(signal: AbortSignal): { done: Promise<string>; forget(): void } {
  let forget = () => {};
  const done = new Promise<string>((resolve) => {
    const tell = () => resolve('it was stopped');
    if (signal.aborted) tell();
    signal.addEventListener('abort', tell);
    forget = () => signal.removeEventListener('abort', tell);
  });
  return { done, forget };
}

function seconds(ms: number): string {
  return `${Number((ms / 1000).toFixed(2))} s`;
}

function sentence(text: string): string {
  return /[.?!]$/.test(text) ? text : `${text}.`;
}
