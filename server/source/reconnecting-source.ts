import { messageOf } from '../problem/problem.ts';
import { capital } from '../problem/sentence.ts';
import type { Connection, Connector } from './connection.ts';
import { pause } from './pause.ts';
import type { LinkStatus, Source, SourceListener } from './source.ts';
import { isSketchText, USUAL_RATES } from './usual-rates.ts';

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
const RATE_TRIAL_MS = 1000;
/** Bytes at the start of a trial that may have been sent before. */
const SAMPLE_SKIPPED = 16;

/**
 * A live source on any connection that can be lost:
 *
 *     open ────────────→ opened, bytes … ─→ lost or silent ─→ close ─┐
 *      ↑ └─ fails ─┐                                                 │
 *      └── pause ←─┴─────────────────────────────────────────────────┘
 *
 * Only one connection is open at a time. The pause grows from a quarter of a second to five seconds, and is short again
 * after bytes have arrived.
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
  /** The connection is to be closed for so long, ms; 0 = it is not. */
  #releasedForMs = 0;
  #connection: Connection | null = null;
  /** What arrives while a baud rate is tried; null = none is. */
  #sample: Uint8Array[] | null = null;
  /** Aborted by each release. */
  #interrupt = new AbortController();

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

  release(forMs: number): void {
    this.#releasedForMs = forMs;
    // Ends the connection, or the pause that another release began.
    this.#interrupt.abort();
    this.#interrupt = new AbortController();
  }

  async findRate(): Promise<number | null> {
    const connection = this.#connection;
    const { baudRate } = this.#connector;
    if (connection?.setRate === undefined || baudRate === undefined || this.#sample !== null) return null;
    try {
      for (const rate of USUAL_RATES) {
        if (this.#connection !== connection || this.#stopping.signal.aborted) return null;
        await connection.setRate(rate);
        this.#sample = [];
        await pause(this.#options.rateTrialMs ?? RATE_TRIAL_MS, this.#stopping.signal);
        // The first bytes may have been sent at the rate before.
        if (isSketchText(Buffer.concat(this.#sample).subarray(SAMPLE_SKIPPED))) return rate;
      }
      return null;
    } catch {
      // The port was lost during the trial, which the connection reports.
      return null;
    } finally {
      if (this.#connection === connection) await connection.setRate(baudRate).catch(() => {});
      this.#sample = null;
    }
  }

  /** Wait until the port is to be used again. */
  async #waitReleased(listener: SourceListener): Promise<void> {
    const { place } = this.#connector;
    while (this.#releasedForMs > 0 && !this.#stopping.signal.aborted) {
      const forMs = this.#releasedForMs;
      this.#releasedForMs = 0;
      const text = `Released ${place} for other programs. It is opened again in ${seconds(forMs)} at the latest.`;
      listener.status({ phase: 'released', text });
      await pause(forMs, AbortSignal.any([this.#stopping.signal, this.#interrupt.signal]));
    }
  }

  async #run(listener: SourceListener): Promise<void> {
    const { place } = this.#connector;
    const { firstPauseMs = FIRST_PAUSE_MS, longestPauseMs = LONGEST_PAUSE_MS } = this.#options;
    const signal = this.#stopping.signal;
    const report = (phase: LinkStatus['phase'], text: string) => listener.status({ phase, text });
    let pauseMs = firstPauseMs;
    report('opening', `Opening ${place}.`);
    while (!signal.aborted) {
      await this.#waitReleased(listener);
      if (signal.aborted) break;
      let reason: string;
      try {
        const connection = await this.#connector.open(signal);
        const end = await this.#read(connection, listener);
        reason = sentence(`${capital(place)}: ${end.reason}`);
        if (end.receivedBytes) pauseMs = firstPauseMs;
      } catch (thrown) {
        reason = sentence(`Cannot open ${place}: ${messageOf(thrown)}`);
      }
      if (signal.aborted) break;
      if (this.#releasedForMs > 0) {
        pauseMs = firstPauseMs;
        continue;
      }
      report('waiting', `${reason} Trying again in ${seconds(pauseMs)}.`);
      await pause(pauseMs, AbortSignal.any([signal, this.#interrupt.signal]));
      pauseMs = Math.min(2 * pauseMs, longestPauseMs);
    }
    report('closed', `Closed ${place}.`);
  }

  /** Pass on what arrives until the connection ends, falls silent, or the source is stopped; then close it. */
  async #read(connection: Connection, listener: SourceListener): Promise<{ reason: string; receivedBytes: boolean }> {
    const signal = AbortSignal.any([this.#stopping.signal, this.#interrupt.signal]);
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
          if (this.#sample !== null) this.#sample.push(chunk);
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

function seconds(ms: number): string {
  return `${Number((ms / 1000).toFixed(2))} s`;
}

function sentence(text: string): string {
  return /[.?!]$/.test(text) ? text : `${text}.`;
}
