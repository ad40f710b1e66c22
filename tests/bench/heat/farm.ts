import { availableParallelism } from 'node:os';
import { Worker } from 'node:worker_threads';
import type { Job, JobResult } from './job.ts';

/** Beside this file, once it is built: Node 20 runs no TypeScript in a worker. */
const THREAD = new URL('./job-thread.js', import.meta.url);

/** Plays all jobs on one thread a core; the results in the order of the jobs. */
export async function playAll(jobs: readonly Job[]): Promise<JobResult[]> {
  const results: JobResult[] = [];
  let next = 0;
  const work = (worker: Worker): Promise<void> =>
    new Promise((resolve, reject) => {
      let at = -1;
      const give = (): void => {
        at = next++;
        if (at < jobs.length) worker.postMessage(jobs[at]);
        else resolve();
      };
      worker.on('message', (result: JobResult) => {
        results[at] = result;
        give();
      });
      worker.on('error', reject);
      give();
    });
  const workers = Array.from({ length: availableParallelism() }, () => new Worker(THREAD));
  try {
    await Promise.all(workers.map(work));
  } finally {
    await Promise.all(workers.map((worker) => worker.terminate()));
  }
  return results;
}
