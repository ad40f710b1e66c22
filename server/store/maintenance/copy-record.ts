import { randomUUID } from 'node:crypto';
import { closeSync, copyFileSync, fsyncSync, openSync, renameSync, rmSync, statfsSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import Sqlite from 'better-sqlite3';
import type { Backup } from '../../monitor/ports/maintenance.ts';
import { messageOf, Problem } from '../../problem/problem.ts';
import { placeOf } from '../../worker/hanging-path.ts';
import { makePrivateFile, makePrivateFolder, sizeOf } from '../private-files.ts';
import { daysSeen } from '../record/days-seen.ts';
import { BEFORE_UPDATE_KEPT_DAYS, nameOfBackup, removeOldBackups } from './backup-list.ts';
import { checkFile } from './check-file.ts';
import { temporaryName } from './leftovers.ts';

/** All in one read of the record: from another connection than the writer's, every commit would restart a copy in steps. */
const ALL_PAGES = 0x7fffffff;

/** Makes a backup. To be called on a worker. @throws Problem `backup-failed` */
export async function copyRecord(
  database: string,
  folder: string,
  nowMs: number,
  kept: number | null,
  reserveBytes: number,
): Promise<Backup> {
  const place = placeOf(folder);
  const path = join(folder, nameOfBackup(nowMs));
  const part = `${path}.part`;
  const copy = besideRecord(database, reserveBytes) ?? part;
  let oldMs = Number.NEGATIVE_INFINITY;
  let folderMade = false;
  try {
    makePrivateFolder(folder);
    folderMade = true;
    makePrivateFile(part);
    makePrivateFile(copy);
    const db = new Sqlite(database, { readonly: true, fileMustExist: true });
    try {
      await db.backup(copy, { progress: () => ALL_PAGES });
      // Only a service does that, whose record has the layout of today.
      if (kept !== null) oldMs = daysSeen(db).olderThan(BEFORE_UPDATE_KEPT_DAYS, nowMs);
    } finally {
      db.close();
    }
    move(copy, part);
    const faults = checkFile(part);
    if (faults.length > 0) throw new Error(`the copy is damaged: ${faults[0]}`);
    const file = openSync(part, 'r+');
    fsyncSync(file);
    closeSync(file);
    // One that hung for long would replace newer ones there.
    if (placeOf(folder) !== place) throw new Error('another drive was mounted there meanwhile');
    renameSync(part, path);
  } catch (thrown) {
    if (folderMade) for (const end of ['', '-wal', '-shm', '-journal']) rmSync(`${part}${end}`, { force: true });
    throw backupFailed(folder, thrown);
  } finally {
    for (const end of ['', '-journal']) if (copy !== part) rmSync(`${copy}${end}`, { force: true });
  }
  for (const end of ['-wal', '-shm']) rmSync(`${part}${end}`, { force: true });
  if (kept !== null) removeOldBackups(folder, path, kept, nowMs, oldMs);
  return { path, timeMs: Math.floor(nowMs / 1000) * 1000, bytes: statSync(path).size };
}

/**
 * Where the record is copied to first: until a copy is complete the write-ahead log grows, which on a drive that hangs takes
 * hours. null = there is too little room.
 */
function besideRecord(database: string, reserveBytes: number): string | null {
  const folder = dirname(database);
  const { bavail, bsize } = statfsSync(folder);
  const bytes = sizeOf(database) + sizeOf(`${database}-wal`);
  const roomy = bytes + Math.max(bytes, reserveBytes) < bavail * bsize;
  return roomy ? join(folder, temporaryName(randomUUID(), 'sqlite')) : null;
}

function move(from: string, to: string): void {
  try {
    renameSync(from, to);
  } catch (thrown) {
    // To another drive.
    if ((thrown as NodeJS.ErrnoException).code !== 'EXDEV') throw thrown;
    copyFileSync(from, to);
  }
}

export const backupFailed = (folder: string, thrown: unknown): Problem =>
  new Problem(
    'backup-failed',
    `No backup could be made in ${folder}: ${messageOf(thrown)}.`,
    'Check that the folder exists, is writable and has space for the whole record. The record itself is unchanged.',
    { cause: thrown },
  );
