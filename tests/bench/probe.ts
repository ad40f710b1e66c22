import { monitorEventLoopDelay } from 'node:perf_hooks';
import { setFlagsFromString } from 'node:v8';
import { runInNewContext } from 'node:vm';
import { isMainThread } from 'node:worker_threads';

/** Loaded into the service before its own code: tells what cannot be seen from outside, each time SIGUSR2 asks. */
export interface Inside {
  /** What is alive: the heap right after it was collected, and buffers outside it, bytes. */
  readonly alive: number;
  /** Lateness of the event loop since the last answer (the first answer: since then nothing), 99th percentile, ms. */
  readonly loopDelayP99Ms: number;
}

/** What an answer begins with on stderr. */
export const PROBE_MARK = 'probe ';

/** A separate timer, so that only a blocked event loop makes it late. */
const RESOLUTION_MS = 10;

if (isMainThread && process.env.STRANDWARD_PROBE === '1') {
  const delay = monitorEventLoopDelay({ resolution: RESOLUTION_MS });
  setFlagsFromString('--expose-gc');
  const collect = runInNewContext('gc') as () => void;
  process.on('SIGUSR2', () => {
    // Its figures contain the interval itself.
    const loopDelayP99Ms = Math.max(0, delay.percentile(99) / 1e6 - RESOLUTION_MS);
    collect();
    const { heapUsed, arrayBuffers } = process.memoryUsage();
    const inside: Inside = { alive: heapUsed + arrayBuffers, loopDelayP99Ms };
    process.stderr.write(`${PROBE_MARK}${JSON.stringify(inside)}\n`);
    delay.disable();
    // The collection is none of the delays that are asked for next.
    setTimeout(() => {
      delay.reset();
      delay.enable();
    }, 2 * RESOLUTION_MS);
  });
}
