import { closeSync, fsyncSync, openSync, renameSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import type { Database } from 'better-sqlite3';
import type { Backup } from '../../monitor/ports/maintenance.ts';
import { messageOf, Problem } from '../../problem/problem.ts';
import { requireAnswer } from '../../worker/hanging-path.ts';
import { openDatabase } from '../database.ts';
import { lockFolder } from '../folder-lock.ts';
import { makePrivateFile, makePrivateFolder } from '../private-files.ts';
import { nameOfBackup, removeOldBackups } from './backup-list.ts';
import { onWorker } from './on-worker.ts';

/** Pages that are copied at a time; readings are written in between. */
const PAGES_A_STEP = 250;

/**
 * Copies the database while it is being written. The copy is checked before it counts as a backup; only then are older ones
 * beyond `kept` deleted (null = none).
 * @throws Problem `backup-failed`
 */
export async function makeBackup(db: Database, folder: string, nowMs: number, kept: number | null): Promise<Backup> {
  const path = join(folder, nameOfBackup(nowMs));
  const part = `${path}.part`;
  let folderMade = false;
  try {
    await requireAnswer(folder);
    makePrivateFolder(folder);
    folderMade = true;
    makePrivateFile(part);
    // On the writer's connection: with another one, every commit would restart the copy.
    await db.backup(part, { progress: () => PAGES_A_STEP });
    const faults = await onWorker('checkFile', part);
    if (faults.length > 0) throw new Error(`the copy is damaged: ${faults[0]}`);
    const file = openSync(part, 'r+');
    fsyncSync(file);
    closeSync(file);
    renameSync(part, path);
  } catch (thrown) {
    if (folderMade) for (const end of ['', '-wal', '-shm', '-journal']) rmSync(`${part}${end}`, { force: true });
    throw new Problem(
      'backup-failed',
      `No backup could be made in ${folder}: ${messageOf(thrown)}.`,
      'Check that the folder exists, is writable and has space for the whole record. The record itself is unchanged.',
      { cause: thrown },
    );
  }
  for (const end of ['-wal', '-shm']) rmSync(`${part}${end}`, { force: true });
  if (kept !== null) removeOldBackups(folder, path, kept, nowMs);
  return { path, timeMs: Math.floor(nowMs / 1000) * 1000, bytes: statSync(path).size };
}

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
      return await makeBackup(db, backupFolder, nowMs, null);
    } finally {
      unlock();
    }
  } finally {
    close();
  }
}
