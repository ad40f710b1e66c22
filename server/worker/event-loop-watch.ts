import { Worker } from 'node:worker_threads';
import { messageOf } from '../problem/problem.ts';
import { workerCode } from './open-worker.ts';

/** What the watching thread is started with. */
export interface EventLoopWatchStart {
  /** One counter: the main thread increases it. */
  readonly beats: SharedArrayBuffer;
  readonly everyMs: number;
  readonly missedMax: number;
}

const EVERY_MS = 1000;
/** A minute: more than the longest task that runs at once. */
const MISSED_MAX = 60;

/**
 * Ends the process by SIGKILL if its event loop is blocked, because a blocked process cannot end itself and not every
 * supervisor would notice. A separate thread watches. It counts its own ticks, so that a suspended machine is no reason.
 * @param warn called if that thread cannot run
 */
export function watchEventLoop(
  warn: (message: string, facts: object) => void,
  everyMs = EVERY_MS,
  missedMax = MISSED_MAX,
): void {
  const code = workerCode(import.meta.url, 'event-loop-worker');
  // Not built: a test that runs the parts in its own process.
  if (code === null) return;
  const beats = new SharedArrayBuffer(Int32Array.BYTES_PER_ELEMENT);
  const counter = new Int32Array(beats);
  setInterval(() => Atomics.add(counter, 0, 1), everyMs).unref();
  const workerData: EventLoopWatchStart = { beats, everyMs, missedMax };
  // Nothing that is loaded into the service is loaded into its watch.
  const execArgv: string[] = [];
  const resourceLimits = { maxOldGenerationSizeMb: 8, stackSizeMb: 1 };
  const failed = (thrown: unknown) => warn('Nothing ends this process if it is blocked', { why: messageOf(thrown) });
  try {
    new Worker(code, { workerData, execArgv, resourceLimits }).on('error', failed).unref();
  } catch (thrown) {
    failed(thrown);
  }
}
