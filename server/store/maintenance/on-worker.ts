import type { ResultOf } from '../../worker/calls.ts';
import { type OpenWorker, openWorker, workerCode } from '../../worker/open-worker.ts';
import { checkFile } from './check-file.ts';
import { checkShare } from './check-parts.ts';
import { copyRecord } from './copy-record.ts';
import { prepareArchive } from './read-archive.ts';
import { writeArchive } from './write-archive.ts';

/** Tasks that read large parts of a record. */
export const createFileWork = () => ({ checkFile, checkShare, copyRecord, prepareArchive, writeArchive });
type FileWork = ReturnType<typeof createFileWork>;

const running = new Set<OpenWorker<FileWork>>();

/** Ends tasks that still run, in the middle if need be: one may be stuck on a drive that hangs. */
export async function endTasks(): Promise<void> {
  await Promise.all([...running].map((worker) => worker.terminate()));
}

/** Runs one of the tasks on a separate worker, because gigabytes of input must not delay a reading. @throws what the task throws */
export async function onWorker<Name extends keyof FileWork>(
  name: Name,
  ...args: Parameters<FileWork[Name]>
): Promise<ResultOf<ReturnType<FileWork[Name]>>> {
  const code = workerCode(import.meta.url, 'maintenance-worker');
  const worker = openWorker({ task: 'works on the record', code, create: createFileWork, start: null });
  running.add(worker);
  try {
    return await worker.call(name, args);
  } finally {
    await worker.close();
    running.delete(worker);
  }
}
