import type { Backup } from '../../monitor/ports/maintenance.ts';
import { requireAnswer } from '../../worker/hanging-path.ts';
import { openDatabase } from '../database.ts';
import { lockFolder } from '../folder-lock.ts';
import { backupFailed } from './copy-record.ts';
import { onWorker } from './on-worker.ts';

/**
 * Copies the database while it is being written, on a worker: a stick may take minutes, and a drive may hang at any moment. The
 * copy is checked before it counts as a backup; only then are older ones beyond `kept` deleted (null = none).
 * @throws Problem `backup-failed`
 */
export async function makeBackup(
  database: string,
  folder: string,
  nowMs: number,
  kept: number | null,
): Promise<Backup> {
  await requireAnswer(folder).catch((thrown) => Promise.reject(backupFailed(folder, thrown)));
  return onWorker('copyRecord', database, folder, nowMs, kept);
}

/**
 * Makes a backup of a record while no service is running. The record keeps its layout, so this also works before a newer
 * version carries it forward.
 * @throws Problem `database-unusable` if there is no record or the folder is in use, `database-broken`,
 *   `database-newer`, `backup-failed`
 */
export async function backUpFolder(folder: string, backupFolder: string, nowMs: number): Promise<Backup> {
  const { path, close } = openDatabase(folder, true);
  try {
    const unlock = lockFolder(
      folder,
      'Make the backup on its page Set-up, with the button “Make a backup”; or stop it first.',
    );
    try {
      return await makeBackup(path, backupFolder, nowMs, null);
    } finally {
      unlock();
    }
  } finally {
    close();
  }
}
