import { closeSync, fsyncSync, openSync, renameSync, rmSync, statSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import type { Backup } from '../../monitor/ports/maintenance.ts';
import { messageOf, Problem } from '../../problem/problem.ts';
import { makePrivateFile, makePrivateFolder } from '../private-files.ts';
import { nameOfBackup, removeOldBackups } from './backup-list.ts';
import { checkFile } from './check-file.ts';

/** All in one read of the record: from another connection than the writer's, every commit would restart a copy in steps. */
const ALL_PAGES = 0x7fffffff;

/** Makes a backup. To be called on a worker. @throws Problem `backup-failed` */
export async function copyRecord(
  database: string,
  folder: string,
  nowMs: number,
  kept: number | null,
): Promise<Backup> {
  const path = join(folder, nameOfBackup(nowMs));
  const part = `${path}.part`;
  let folderMade = false;
  try {
    makePrivateFolder(folder);
    folderMade = true;
    makePrivateFile(part);
    const db = new Sqlite(database, { readonly: true, fileMustExist: true });
    try {
      await db.backup(part, { progress: () => ALL_PAGES });
    } finally {
      db.close();
    }
    const faults = checkFile(part);
    if (faults.length > 0) throw new Error(`the copy is damaged: ${faults[0]}`);
    const file = openSync(part, 'r+');
    fsyncSync(file);
    closeSync(file);
    renameSync(part, path);
  } catch (thrown) {
    if (folderMade) for (const end of ['', '-wal', '-shm', '-journal']) rmSync(`${part}${end}`, { force: true });
    throw backupFailed(folder, thrown);
  }
  for (const end of ['-wal', '-shm']) rmSync(`${part}${end}`, { force: true });
  if (kept !== null) removeOldBackups(folder, path, kept, nowMs);
  return { path, timeMs: Math.floor(nowMs / 1000) * 1000, bytes: statSync(path).size };
}

export const backupFailed = (folder: string, thrown: unknown): Problem =>
  new Problem(
    'backup-failed',
    `No backup could be made in ${folder}: ${messageOf(thrown)}.`,
    'Check that the folder exists, is writable and has space for the whole record. The record itself is unchanged.',
    { cause: thrown },
  );
