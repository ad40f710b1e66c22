import type { Backup } from '../../monitor/ports/maintenance.ts';
import { openDatabase } from '../database.ts';
import { lockFolder } from '../folder-lock.ts';
import { makeBackup } from './backups.ts';

/**
 * Makes a backup of a record while no service is running. The record keeps its layout, so this also works before a newer
 * version carries it forward.
 * @throws Problem `database-unusable` if there is no record or the folder is in use, `database-broken`,
 *   `database-newer`, `backup-failed`
 */
export async function backUpFolder(folder: string, backupFolder: string, nowMs: number): Promise<Backup> {
  const { db, close } = openDatabase(folder, true);
  try {
    const unlock = lockFolder(
      folder,
      'Make the backup on its page Set-up, with the button “Make a backup”; or stop it first.',
    );
    try {
      return await makeBackup(db, backupFolder, nowMs, Number.POSITIVE_INFINITY);
    } finally {
      unlock();
    }
  } finally {
    close();
  }
}
