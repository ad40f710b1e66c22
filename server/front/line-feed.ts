import WebSocket from 'ws';
import type { LiveFrame } from '../api/contract/live.ts';
import { messageOf } from '../problem/problem.ts';
import type { OtherLine } from './other-line.ts';
import { SeenLine } from './seen-line.ts';

/** A line sends its state four times a second. After this long without a frame it counts as gone. */
const SILENCE_MS = 4000;
const RETRY_FIRST_MS = 500;
const RETRY_MOST_MS = 20_000;
const HANDSHAKE_MS = 5000;
/** A state with hundreds of alarms. */
const FRAME_BYTES_MAX = 512 * 1024;
/** A line sends 50 KB and 30 frames a second, and somewhat more while much happens. */
const BYTES_PER_S_MAX = 2_000_000;
const FRAMES_PER_S_MAX = 300;

export type FeedPhase = 'connecting' | 'open' | 'lost';

export interface LineFeedParts {
  /** Monotonic, ms. */
  nowMs(): number;
  /** A frame of this version; null = it is something else. Never throws. */
  readFrame(text: string): LiveFrame | null;
  /** Authorities that are trusted besides the usual ones. */
  authorities(): string[] | undefined;
  /** Something urgent changed. */
  changed(): void;
}

/** Holds the live feed of another line: connects, checks what comes, notices silence, and tries again after growing pauses. */
export class LineFeed {
  readonly line: OtherLine;
  readonly #parts: LineFeedParts;
  readonly #seen = new SeenLine();
  #phase: FeedPhase = 'connecting';
  #why = '';
  #lastFrameMs: number;
  #heardMs: number;
  #retryMs = RETRY_FIRST_MS;
  #socket: WebSocket | null = null;
  #timer: NodeJS.Timeout | undefined;
  #second = { startedMs: 0, frames: 0, bytes: 0 };

  constructor(line: OtherLine, parts: LineFeedParts) {
    this.line = line;
    this.#parts = parts;
    this.#lastFrameMs = this.#heardMs = parts.nowMs();
  }

  start(): void {
    this.#connect();
  }

  stop(): void {
    clearTimeout(this.#timer);
    const socket = this.#socket;
    this.#socket = null;
    socket?.terminate();
  }

  get seen(): SeenLine {
    return this.#seen;
  }

  get phase(): FeedPhase {
    return this.#phase;
  }

  /** Why it is lost, as a sentence. */
  get why(): string {
    return this.#why;
  }

  /** Since the last frame, or since the start if there was none. */
  get silentForMs(): number {
    return this.#parts.nowMs() - this.#heardMs;
  }

  #connect(): void {
    const { address, watchToken } = this.line;
    const { host } = new URL(address);
    const ca = this.#parts.authorities();
    const socket = new WebSocket(`${address.replace(/^http/, 'ws')}/live`, {
      headers: { authorization: `Bearer ${watchToken}` },
      handshakeTimeout: HANDSHAKE_MS,
      maxPayload: FRAME_BYTES_MAX,
      perMessageDeflate: false,
      followRedirects: false,
      ...(ca === undefined ? {} : { ca }),
    });
    this.#socket = socket;
    const lose = (why: string) => {
      if (this.#socket === socket) this.#lose(why);
    };
    socket.on('unexpected-response', (_request, answer) => {
      const { location } = answer.headers;
      const status = answer.statusCode ?? 0;
      answer.destroy();
      lose(refusal(host, status, location));
    });
    socket.on('open', () => this.#watchSilence(socket, host));
    socket.on('message', (data, binary) => {
      if (this.#socket !== socket) return;
      if (binary || !Buffer.isBuffer(data)) lose(`What answers at ${host} is not Strandward.`);
      else this.#hear(data, host);
    });
    socket.on('error', (thrown) => lose(failure(host, thrown)));
    socket.on('close', (_code, reason) => lose(closed(host, reason.toString())));
  }

  #hear(data: Buffer, host: string): void {
    const nowMs = this.#parts.nowMs();
    const second = this.#second;
    if (nowMs - second.startedMs >= 1000) this.#second = { startedMs: nowMs, frames: 1, bytes: data.length };
    else {
      second.frames += 1;
      second.bytes += data.length;
      if (second.frames > FRAMES_PER_S_MAX || second.bytes > BYTES_PER_S_MAX) {
        this.#lose(`${host} sends far more data than a line does.`, RETRY_MOST_MS);
        return;
      }
    }
    const frame = this.#parts.readFrame(data.toString());
    if (frame === null) {
      this.#lose(
        `${host} runs another version of Strandward. Install the same version on both machines.`,
        RETRY_MOST_MS,
      );
      return;
    }
    this.#lastFrameMs = this.#heardMs = nowMs;
    if (frame.kind === 'readings') this.#seen.hearReadings(frame);
    if (frame.kind !== 'state') return;
    const wasOpen = this.#phase === 'open';
    this.#phase = 'open';
    this.#why = '';
    this.#retryMs = RETRY_FIRST_MS;
    if (this.#seen.hearState(frame.state) || !wasOpen) this.#parts.changed();
  }

  #watchSilence(socket: WebSocket, host: string): void {
    if (this.#socket !== socket) return;
    // Silence counts from the connection: a line that has just come back has not been silent.
    this.#lastFrameMs = this.#parts.nowMs();
    const look = () => {
      if (this.#socket !== socket) return;
      const left = this.#lastFrameMs + SILENCE_MS - this.#parts.nowMs();
      if (left <= 0) this.#lose(`${host} holds the connection, but sends nothing.`);
      else this.#timer = setTimeout(look, left);
    };
    look();
  }

  #lose(why: string, pauseMs = this.#retryMs): void {
    this.stop();
    const isNews = this.#phase !== 'lost';
    this.#phase = 'lost';
    this.#why = why;
    this.#timer = setTimeout(() => this.#connect(), pauseMs);
    this.#retryMs = Math.min(this.#retryMs * 1.7, RETRY_MOST_MS);
    if (isNews) this.#parts.changed();
  }
}

function refusal(host: string, status: number, location: string | undefined): string {
  if (status === 401) return `${host} does not know the token. Enter a new one under Set-up → Other lines.`;
  if (status === 403) return `The token for ${host} lacks the right to watch.`;
  if (status === 429) return `${host} has received too many requests.`;
  if (status >= 300 && status < 400 && location?.startsWith('https:'))
    return `${host} accepts HTTPS only. Change its address to https:// under Set-up → Other lines.`;
  return `What answers at ${host} is not Strandward.`;
}

const FAILURES: Readonly<Record<string, string>> = {
  ECONNREFUSED: 'Nothing answers at {host}. Is its service running?',
  ECONNRESET: '{host} broke the connection.',
  ENOTFOUND: 'The name {host} is not known.',
  EAI_AGAIN: 'The name {host} cannot be looked up now.',
  EHOSTUNREACH: '{host} cannot be reached. Is that machine switched on?',
  ENETUNREACH: '{host} cannot be reached. Is this machine on the network?',
  ETIMEDOUT: '{host} does not answer. Is that machine switched on?',
  UNABLE_TO_VERIFY_LEAF_SIGNATURE:
    'The certificate of {host} is not trusted. Use the same authority of the house for both.',
  SELF_SIGNED_CERT_IN_CHAIN: 'The certificate of {host} is not trusted. Use the same authority of the house for both.',
  DEPTH_ZERO_SELF_SIGNED_CERT:
    'The certificate of {host} is not trusted. Use the same authority of the house for both.',
  ERR_TLS_CERT_ALTNAME_INVALID: 'The certificate of {host} is for another name.',
  WS_ERR_UNSUPPORTED_MESSAGE_LENGTH: '{host} sends far more data than a line does.',
};

/** @param host where it failed */
export function failure(host: string, thrown: unknown): string {
  const inner = thrown instanceof AggregateError ? thrown.errors[0] : thrown;
  const code = String((inner as NodeJS.ErrnoException).code ?? '');
  const known = FAILURES[code];
  if (known !== undefined) return known.replaceAll('{host}', host);
  const text = messageOf(inner);
  if (/timed out/.test(text)) return `${host} does not answer in time.`;
  // Of a message from outside, only what a line can be.
  if (/^(Invalid|Unexpected|RSV|Parse Error)/.test(text)) return `What answers at ${host} is not Strandward.`;
  return `The connection to ${host} failed: ${text}.`;
}

function closed(host: string, reason: string): string {
  return reason === '' ? `${host} ended the connection.` : `${host} ended the connection: ${reason.slice(0, 120)}`;
}
