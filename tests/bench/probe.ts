import { monitorEventLoopDelay } from 'node:perf_hooks';
import { isMainThread } from 'node:worker_threads';

/** Loaded into the service before its own code: tells what cannot be seen from outside, each time SIGUSR2 asks. */
export interface Inside {
  /** Bytes. */
  readonly heapUsed: number;
  /** Lateness of the event loop since the last answer (the first answer: since then nothing), 99th percentile, ms. */
  readonly loopDelayP99Ms: number;
}

/** What an answer begins with on stderr. */
export const PROBE_MARK = 'probe ';

/** A separate timer, so that only a blocked event loop makes it late. */
const RESOLUTION_MS = 10;

if (isMainThread && process.env.STRANDWARD_PROBE === '1') {
  const delay = monitorEventLoopDelay({ resolution: RESOLUTION_MS });
  process.on('SIGUSR2', () => {
    const inside: Inside = {
      heapUsed: process.memoryUsage().heapUsed,
      // Its figures contain the interval itself.
      loopDelayP99Ms: Math.max(0, delay.percentile(99) / 1e6 - RESOLUTION_MS),
    };
    process.stderr.write(`${PROBE_MARK}${JSON.stringify(inside)}\n`);
    delay.reset();
    delay.enable();
  });
}
