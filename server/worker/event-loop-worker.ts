/** Ends the process when its event loop is blocked; see `event-loop-watch.ts`. */
import { writeSync } from 'node:fs';
import { workerData } from 'node:worker_threads';
import type { EventLoopWatchStart } from './event-loop-watch.ts';

const { beats, everyMs, missedMax } = workerData as EventLoopWatchStart;
const counter = new Int32Array(beats);
let last = Atomics.load(counter, 0);
let missed = 0;

setInterval(() => {
  const now = Atomics.load(counter, 0);
  missed = now === last ? missed + 1 : 0;
  last = now;
  if (missed < missedMax) return;
  if (missed === missedMax) {
    const msg = `The process is blocked: it has done nothing for ${Math.round((missed * everyMs) / 1000)} s. It is ended, so that it can be started again.`;
    // As the log writes a line. The log itself belongs to the blocked thread.
    writeSync(1, `${JSON.stringify({ level: 60, time: new Date().toISOString(), msg })}\n`);
  }
  // Ignored by the first process of a container, which therefore has to be another one (Dockerfile).
  process.kill(process.pid, 'SIGKILL');
}, everyMs);
