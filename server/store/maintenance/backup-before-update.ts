import { closeSync, fsyncSync, openSync, renameSync, rmSync, statfsSync } from 'node:fs';
import { join } from 'node:path';
import type { Database } from 'better-sqlite3';
import { messageOf, Problem } from '../../problem/problem.ts';
import { VERSION } from '../../version.ts';
import { makePrivateFile, makePrivateFolder } from '../private-files.ts';
import { backupsIn, nameOfBackup } from './backup-list.ts';
import { checkFile } from './check-file.ts';

/** What a half-written copy consists of. */
const ENDINGS = ['', '-wal', '-shm', '-journal'];

/** Left free when the copy is complete, because the update itself writes to the disk. */
const RESERVE_BYTES = 32 * 2 ** 20;

/** Where the record is to be kept as it is before this version changes its layout. */
export function backupBeforeUpdate(folder: string, nowMs: number): string {
  return join(folder, nameOfBackup(nowMs, VERSION));
}

/**
 * Copies and checks the record. A copy in which an earlier call was killed is replaced.
 * @param backup from `backupBeforeUpdate`
 * @throws Problem `backup-failed`; nothing of the copy is then left
 */
export function copyBeforeUpdate(db: Database, folder: string, backup: string): void {
  const part = `${backup}.part`;
  try {
    makePrivateFolder(folder);
    removeUnfinished(backup);
    const lackingBytes = bytesUsed(db) + RESERVE_BYTES - bytesFree(folder);
    if (lackingBytes > 0) throw noRoom(folder, lackingBytes);
    makePrivateFile(part);
    // Unlike a copy of the file it cannot disturb the locks of SQLite, and free pages are left out.
    db.prepare('VACUUM INTO ?').run(part);
    const fault = faultOfCopy(part, db.name);
    if (fault !== null) throw new Error(`the copy is damaged: ${fault}`);
    sync(part);
    renameSync(part, backup);
    sync(folder);
  } catch (thrown) {
    removeUnfinished(backup);
    if (thrown instanceof Problem) throw thrown;
    if (thrown instanceof Error && 'code' in thrown && /^(ENOSPC|EDQUOT|SQLITE_FULL)$/.test(String(thrown.code)))
      throw noRoom(folder, null);
    throw refused(
      `No backup can be made in ${folder}: ${messageOf(thrown)}.`,
      'Check that the folder is writable and its disk in order, or choose another with --backup FOLDER, then start again.',
      thrown,
    );
  }
}

/** Only the newest backup before an update is kept. @param backup the one that was just needed */
export function removeOtherUpdates(folder: string, backup: string): void {
  for (const { path, beforeUpdate } of backupsIn(folder))
    if (beforeUpdate && path !== backup) rmSync(path, { force: true });
}

export function removeUnfinished(backup: string): void {
  for (const end of ENDINGS) rmSync(`${backup}.part${end}`, { force: true });
}

function bytesUsed(db: Database): number {
  const [pages, free, size] = ['page_count', 'freelist_count', 'page_size'].map((name) =>
    Number(db.pragma(name, { simple: true })),
  ) as [number, number, number];
  return (pages - free) * size;
}

function bytesFree(folder: string): number {
  const { bavail, bsize } = statfsSync(folder);
  return bavail * bsize;
}

function sync(path: string): void {
  const file = openSync(path, 'r');
  try {
    fsyncSync(file);
  } finally {
    closeSync(file);
  }
}

/** @param lackingBytes null = not known */
function noRoom(folder: string, lackingBytes: number | null): Problem {
  const lacking = lackingBytes === null ? 'some space' : `at least ${Math.ceil(lackingBytes / 1e6)} MB`;
  return refused(
    `There is not enough space in ${folder} for the backup.`,
    `Free ${lacking} on that disk, or choose a folder on another with --backup FOLDER, then start again.`,
  );
}

/** A fault that the record has as well must not keep it from being updated, or backed up as it is; null = none. */
function faultOfCopy(copy: string, original: string): string | null {
  const faults = checkFile(copy);
  if (faults.length === 0) return null;
  const known = new Set(checkFile(original));
  return faults.find((fault) => !known.has(fault)) ?? null;
}

function refused(what: string, remedy: string, cause?: unknown): Problem {
  return new Problem(
    'backup-failed',
    `Version ${VERSION} must change the layout of the record, and first makes a backup of it. ${what}`,
    `${remedy} Nothing was changed; the previous version can still use the record.`,
    { cause },
  );
}
