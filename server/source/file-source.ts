import { accessSync, constants, statSync } from 'node:fs';
import type { FileHandle } from 'node:fs/promises';
import { messageOf, Problem } from '../problem/problem.ts';
import { NO_FILE, openRegular } from '../worker/hanging-path.ts';
import { waitAtMost } from '../worker/wait-at-most.ts';
import { pause } from './pause.ts';
import { RecordedPace } from './recorded-pace.ts';
import type { LinkStatus, Source, SourceListener } from './source.ts';
import type { Pace } from './source-address.ts';
import { endOf, OPEN_WITHIN_MS } from './time-limit.ts';

export interface FileSourceOptions {
  readonly path: string;
  readonly pace: Pace;
  /** Start of the recording, UTC ms; null = now. */
  readonly startMs?: number | null;
  /** Lines per second if they have no clock; null = 50. */
  readonly rateHz?: number | null;
}

const CHUNK_BYTES = 65_536;
const LF = 10;
/** Lines that are due within this are emitted together, because a shorter sleep is not accurate. */
const LEAST_SLEEP_MS = 4;
const CHECKED_END = /\*[0-9a-f]{2}\r?$/i;

/**
 * A recorded log of reading lines.
 * @throws Problem `source-unusable`: the file does not exist or cannot be read
 */
export function fileSource(options: FileSourceOptions): Source {
  const { path } = options;
  try {
    const found = statSync(path);
    if (found.isDirectory()) throw new Error('it is a folder');
    if (!found.isFile()) throw new Error(NO_FILE);
    accessSync(path, constants.R_OK);
  } catch (thrown) {
    const remedy = 'Write file:PATH with the path of a recorded log of reading lines.';
    throw new Problem('source-unusable', `Cannot replay ${path}: ${fileText(thrown)}.`, remedy, { cause: thrown });
  }
  return new FileSource(options);
}

class FileSource implements Source {
  readonly timing = 'recorded';
  /** Every start begins with the first line. */
  readonly resumable = false;
  readonly title: string;
  readonly recorded: NonNullable<Source['recorded']>;
  readonly playback: NonNullable<Source['playback']>;
  readonly #path: string;
  readonly #pace: Pace;
  readonly #stopping = new AbortController();
  #running: Promise<void> | null = null;

  constructor({ path, pace, startMs = null, rateHz = null }: FileSourceOptions) {
    this.recorded = { startMs, rateHz };
    this.playback = { what: 'replay', pace };
    this.title = `recorded log ${path}`;
    this.#path = path;
    this.#pace = pace;
  }

  start(listener: SourceListener): void {
    this.#running ??= this.#run(listener);
  }

  async stop(): Promise<void> {
    this.#stopping.abort();
    await endOf(this.#running);
  }

  async #run(listener: SourceListener): Promise<void> {
    const signal = this.#stopping.signal;
    const report = (phase: LinkStatus['phase'], text: string) => listener.status({ phase, text });
    report('opening', `Opening ${this.#path}.`);
    let handle: FileHandle;
    try {
      handle = await waitAtMost(OPEN_WITHIN_MS, openRegular(this.#path), (late) => void late.close());
    } catch (thrown) {
      report('ended', `Cannot replay ${this.#path}: ${fileText(thrown)}.`);
      return;
    }
    let end = `The recorded log ${this.#path} has been read to its end.`;
    let wasStopped = false;
    try {
      listener.opened();
      report('open', `Replaying ${this.#path}.`);
      const chunks = chunksOf(handle, signal);
      await (this.#pace === 'max'
        ? sendAll(chunks, listener, signal)
        : sendInTime(chunks, this.#pace, this.recorded.rateHz, listener, signal));
      wasStopped = signal.aborted;
    } catch (thrown) {
      end = `Cannot continue to read ${this.#path}: ${fileText(thrown)}.`;
    } finally {
      await handle.close();
    }
    if (wasStopped) report('closed', `Closed ${this.#path}.`);
    else report('ended', end);
  }
}

/** Each chunk has its own buffer, because its reader may keep it. */
async function* chunksOf(handle: FileHandle, signal: AbortSignal): AsyncGenerator<Buffer> {
  let tail = '';
  let last = LF;
  while (!signal.aborted) {
    const { bytesRead, buffer } = await handle.read(Buffer.allocUnsafe(CHUNK_BYTES), 0, CHUNK_BYTES);
    if (bytesRead === 0) break;
    const chunk = buffer.subarray(0, bytesRead);
    tail = (tail + chunk.subarray(-8).toString('latin1')).slice(-8);
    last = chunk.at(-1) ?? last;
    yield chunk;
  }
  // A last line without a line end may be incomplete and is left alone, unless it ends in a checksum.
  if (last !== LF && CHECKED_END.test(tail)) yield Buffer.from('\n');
}

async function sendAll(chunks: AsyncIterable<Buffer>, listener: SourceListener, signal: AbortSignal): Promise<void> {
  for await (const chunk of chunks) {
    if (signal.aborted) return;
    listener.bytes(chunk, null);
    // Let the rest of the process run, however fast the disk is.
    await new Promise((resolve) => setImmediate(resolve));
  }
}

async function sendInTime(
  chunks: AsyncIterable<Buffer>,
  speed: number,
  rateHz: number | null,
  listener: SourceListener,
  signal: AbortSignal,
): Promise<void> {
  const pace = new RecordedPace(rateHz);
  const startMs = performance.now();
  let rest: Buffer = Buffer.alloc(0);
  for await (const chunk of chunks) {
    const bytes = rest.length === 0 ? chunk : Buffer.concat([rest, chunk]);
    let sent = 0;
    let at = 0;
    for (let end = bytes.indexOf(LF); end >= 0; end = bytes.indexOf(LF, at)) {
      pace.next(bytes.toString('latin1', at, end));
      const waitMs = startMs + pace.dueMs / speed - performance.now();
      if (waitMs > LEAST_SLEEP_MS) {
        if (at > sent) listener.bytes(bytes.subarray(sent, at), null);
        sent = at;
        await pause(waitMs, signal);
      }
      if (signal.aborted) return;
      at = end + 1;
    }
    if (at > sent) listener.bytes(bytes.subarray(sent, at), null);
    rest = bytes.subarray(at);
    // A long stretch without a line end cannot be paced and is not kept.
    if (rest.length > CHUNK_BYTES) {
      listener.bytes(rest, null);
      rest = Buffer.alloc(0);
    }
  }
  if (rest.length > 0 && !signal.aborted) listener.bytes(rest, null);
}

function fileText(thrown: unknown): string {
  switch ((thrown as NodeJS.ErrnoException).code) {
    case 'ENOENT':
    case 'ENOTDIR':
      return 'there is no such file';
    case 'EACCES':
    case 'EPERM':
      return 'you have no permission to read it';
    case 'EISDIR':
      return 'it is a folder';
    default:
      return messageOf(thrown);
  }
}
