import type { ResultOf } from '../../worker/calls.ts';
import { openWorker, workerCode } from '../../worker/open-worker.ts';
import { checkFile } from './check-file.ts';
import { prepareArchive } from './read-archive.ts';
import { writeArchive } from './write-archive.ts';

/** What reads much of a record. */
export const createFileWork = () => ({ checkFile, prepareArchive, writeArchive });
type FileWork = ReturnType<typeof createFileWork>;

/** Does one of them on a worker of its own: reading gigabytes must not delay a reading. @throws as it does */
export async function onWorker<Name extends keyof FileWork>(
  name: Name,
  ...given: Parameters<FileWork[Name]>
): Promise<ResultOf<ReturnType<FileWork[Name]>>> {
  const code = workerCode(import.meta.url, 'maintenance-worker');
  const worker = openWorker({ task: 'works on the record', code, create: createFileWork, start: null });
  try {
    return await worker.call(name, given);
  } finally {
    await worker.close();
  }
}
