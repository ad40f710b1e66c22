/**
 * Loaded into the service before its own code: its clocks and timers run STRANDWARD_PACE times as fast as those of the
 * machine since STRANDWARD_PACE_SINCE_MS, so that a night passes in minutes. Each start and each worker has the same time. Only the
 * thread that ends a blocked process keeps the clock of the machine, which other programs may keep busy for seconds.
 */
import { workerData } from 'node:worker_threads';

const pace = Number(process.env.STRANDWARD_PACE);
const sinceMs = Number(process.env.STRANDWARD_PACE_SINCE_MS);
const wallMs = Date.now;
const steadyMs = performance.now.bind(performance);

if (workerData?.beats === undefined) {
  Date.now = () => Math.floor(sinceMs + (wallMs() - sinceMs) * pace);
  performance.now = () => steadyMs() * pace;
  for (const name of ['setTimeout', 'setInterval']) {
    const start = globalThis[name];
    globalThis[name] = (work, ms, ...args) => start(work, ms / pace, ...args);
  }
}
