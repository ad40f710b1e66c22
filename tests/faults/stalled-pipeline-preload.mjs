/**
 * Loaded into the service before its own code. From SIGUSR2 on the monitor's work of each second is no longer done, as if a bug
 * had ended it, and the steady clock runs five times faster.
 */
import { isMainThread } from 'node:worker_threads';

const MONITOR_TICK_MS = 200;
const FASTER = 5;

if (isMainThread) {
  let stands = false;
  const { setInterval } = globalThis;
  globalThis.setInterval = (work, everyMs, ...args) =>
    setInterval(everyMs === MONITOR_TICK_MS ? () => stands || work(...args) : work, everyMs, ...args);
  const now = performance.now.bind(performance);
  process.on('SIGUSR2', () => {
    stands = true;
    const startMs = now();
    performance.now = () => startMs + (now() - startMs) * FASTER;
  });
}
