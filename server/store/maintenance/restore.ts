import { closeSync, copyFileSync, existsSync, fsyncSync, mkdirSync, openSync, renameSync, rmSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { messageOf, Problem } from '../../problem/problem.ts';
import { checkIdentity, DATABASE_FILE, openDatabase } from '../database.ts';
import { lockFolder } from '../folder-lock.ts';
import { checkFile } from './check-file.ts';

/**
 * Put a backup in the place of the database of a data folder. What was there is kept beside it under another name.
 * @returns where the old database lies now; null = there was none
 * @throws Problem `database-broken` where the backup is none, `database-newer` where a newer program made it,
 *   `database-unusable` where the folder is in use
 */
export function restoreBackup(folder: string, backup: string, nowMs: number): string | null {
  const faults = existsSync(backup) ? checkFile(backup) : ['there is no such file'];
  if (faults.length > 0) {
    throw new Problem(
      'database-broken',
      `${backup} cannot be restored: ${faults[0]}.`,
      'Choose another backup. Nothing was changed.',
    );
  }
  refuseForeign(backup);
  const path = join(folder, DATABASE_FILE);
  const fresh = `${path}.restoring`;
  mkdirSync(folder, { recursive: true });
  const unlock = lockFolder(folder);
  const old = existsSync(path)
    ? `${path}.before-restore-${new Date(nowMs).toISOString().slice(0, 19).replaceAll(':', '-')}Z`
    : null;
  try {
    copyFileSync(backup, fresh);
    const file = openSync(fresh, 'r+');
    fsyncSync(file);
    closeSync(file);
    // A write-ahead log belongs to its database by name, so it moves with it.
    for (const end of ['', '-wal', '-shm']) {
      if (old !== null && existsSync(path + end)) renameSync(path + end, old + end);
      else rmSync(path + end, { force: true });
    }
    renameSync(fresh, path);
  } catch (thrown) {
    rmSync(fresh, { force: true });
    if (old !== null && !existsSync(path) && existsSync(old)) {
      for (const end of ['', '-wal', '-shm']) if (existsSync(old + end)) renameSync(old + end, path + end);
    }
    throw new Problem(
      'database-unusable',
      `The backup could not be put into ${folder}: ${messageOf(thrown)}.`,
      'See that the disk has room and the folder is writable. The old database is as it was.',
      { cause: thrown },
    );
  } finally {
    unlock();
  }
  // Carried forward to this program's layout.
  openDatabase(folder, false).close();
  return old;
}

/** Before anything is moved: what this program could not open must not take the place of what it can. */
function refuseForeign(backup: string): void {
  const db = new Sqlite(backup, { readonly: true, fileMustExist: true });
  try {
    checkIdentity(db, backup);
  } catch (thrown) {
    if (!(thrown instanceof Problem)) throw thrown;
    const newer = thrown.code === 'database-newer' ? 'Install the newer version, or choose' : 'Choose';
    throw new Problem(thrown.code, thrown.message, `${newer} another backup. Nothing was changed.`, { cause: thrown });
  } finally {
    db.close();
  }
}
