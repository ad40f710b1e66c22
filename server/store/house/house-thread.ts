import { Worker } from 'node:worker_threads';
import { checkFile } from './check-file.ts';
import { type Prepared, prepareArchive } from './read-archive.ts';
import { writeArchive } from './write-archive.ts';

export type HouseOrder =
  | { readonly what: 'check'; readonly path: string }
  | { readonly what: 'prepare'; readonly path: string }
  | { readonly what: 'archive'; readonly path: string; readonly runId: number; readonly target: string };

/** Where the worker's code lies: beside this file, once it is built. Node 20 runs no TypeScript in a worker. */
const WORKER = import.meta.url.endsWith('.ts') ? null : new URL('./house-worker.js', import.meta.url);

/** `checkFile` on a thread of its own: reading gigabytes must not delay a reading. */
export async function checkOnThread(path: string): Promise<string[]> {
  if (WORKER === null) return checkFile(path);
  return (await onThread(WORKER, { what: 'check', path })) as string[];
}

/** `writeArchive` on a thread of its own. */
export async function archiveOnThread(path: string, runId: number, target: string): Promise<void> {
  if (WORKER === null) writeArchive(path, runId, target);
  else await onThread(WORKER, { what: 'archive', path, runId, target });
}

/** `prepareArchive` on a thread of its own. */
export async function prepareOnThread(path: string): Promise<Prepared> {
  if (WORKER === null) return prepareArchive(path);
  return (await onThread(WORKER, { what: 'prepare', path })) as Prepared;
}

function onThread(code: URL, order: HouseOrder): Promise<unknown> {
  return new Promise((resolve, reject) => {
    const worker = new Worker(code, { workerData: order });
    worker.once('message', resolve);
    worker.once('error', reject);
    worker.once('exit', () => reject(new Error('The thread that works on the record ended.')));
  });
}
