/** Ends the process when its event loop is blocked; see `event-loop-watch.ts`. */
import { write } from 'node:fs';
import { workerData } from 'node:worker_threads';
import type { EventLoopWatchStart } from './event-loop-watch.ts';

const { beats, everyMs, missedMax } = workerData as EventLoopWatchStart;
const WRITTEN_WITHIN_MS = 1000;
/** Ignored by the first process of a container, which therefore has to be another one (Dockerfile). */
const end = () => process.kill(process.pid, 'SIGKILL');

const counter = new Int32Array(beats);
let last = Atomics.load(counter, 0);
let missed = 0;

setInterval(() => {
  const now = Atomics.load(counter, 0);
  missed = now === last ? missed + 1 : 0;
  last = now;
  if (missed !== missedMax) return;
  const msg = `The process is blocked: it has done nothing for ${Math.round((missed * everyMs) / 1000)} s. It is ended, so that it can be started again.`;
  // As the log writes a line. The log itself belongs to the blocked thread, which may be waiting for whoever reads it.
  write(1, `${JSON.stringify({ level: 60, time: new Date().toISOString(), msg })}\n`, end);
  setTimeout(end, WRITTEN_WITHIN_MS);
}, everyMs);
