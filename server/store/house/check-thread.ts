import { Worker } from 'node:worker_threads';
import { checkFile } from './check-file.ts';

/** Where the worker's code lies: beside this file, once it is built. Node 20 runs no TypeScript in a worker. */
const WORKER = import.meta.url.endsWith('.ts') ? null : new URL('./check-worker.js', import.meta.url);

/** `checkFile` on a thread of its own: reading gigabytes must not delay a reading. */
export function checkOnThread(path: string): Promise<string[]> {
  if (WORKER === null) return Promise.resolve(checkFile(path));
  return new Promise((resolve, reject) => {
    const worker = new Worker(WORKER, { workerData: { path } });
    worker.once('message', resolve);
    worker.once('error', reject);
    worker.once('exit', () => reject(new Error('The thread that checks the record ended.')));
  });
}
