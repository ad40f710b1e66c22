import {
  closeSync,
  copyFileSync,
  existsSync,
  fsyncSync,
  openSync,
  readdirSync,
  renameSync,
  rmSync,
  statSync,
} from 'node:fs';
import { dirname, join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { messageOf, Problem } from '../../problem/problem.ts';
import { checkIdentity, DATABASE_FILE, openDatabase } from '../database.ts';
import { lockFolder } from '../folder-lock.ts';
import { removeMarker } from '../marker.ts';
import { migrate } from '../migrations/migrate.ts';
import { makePrivate, makePrivateFile, makePrivateFolder } from '../private-files.ts';
import { ABANDONED_MS } from '../record/bin.ts';
import { sealRowGroups, watchRowChanges } from '../row-checksums.ts';
import { checkFile } from './check-file.ts';
import { faultOfRecord, faultOfSchema, type RecordFault } from './check-values.ts';
import { emptying } from './emptying.ts';

/** A database and what belongs to it by name. */
const ENDINGS = ['', '-wal', '-shm'];
/** The option of the command. */
const LEAVE_OUT = '--without-damaged-runs';

/**
 * Replaces the database of a data folder by a backup. The old database is kept in the folder under another name.
 * @param leftOut leaves out runs that cannot be read, instead of refusing the backup; called with what each was left out for
 * @returns the new path of the old database; null = there was none
 * @throws Problem `database-broken` if the file is no intact backup, `database-newer` if a newer version made it,
 *   `database-unusable` if the folder is in use
 */
export function restoreBackup(
  folder: string,
  backup: string,
  nowMs: number,
  leftOut?: (what: string) => void,
): string | null {
  const stats = statSync(backup, { throwIfNoEntry: false });
  if (stats === undefined) throw notRestorable(backup, 'there is no such file');
  if (stats.isFile() && stats.size === 0) throw notRestorable(backup, 'it is empty');
  // The record that an earlier restore replaced may still have its write-ahead log.
  const parts = ['', '-wal'].filter((end) => existsSync(backup + end));
  // Opening a pipe would wait for its writer.
  const strange = parts.find((end) => !statSync(backup + end).isFile());
  if (strange === '') throw notRestorable(backup, 'it is not a file');
  if (strange !== undefined) throw notRestorable(backup, `${backup}${strange} beside it is not a file`);
  const path = join(folder, DATABASE_FILE);
  const fresh = `${path}.restoring`;
  makePrivateFolder(folder);
  const unlock = lockFolder(folder);
  const old = existsSync(path)
    ? `${path}.before-restore-${new Date(nowMs).toISOString().slice(0, 19).replaceAll(':', '-')}Z`
    : movedWithoutLog(path);
  try {
    // A log that a killed restore left would be applied to this copy.
    for (const end of ENDINGS) rmSync(fresh + end, { force: true });
    makePrivateFile(fresh);
    for (const end of parts) {
      copyFileSync(backup + end, fresh + end);
      makePrivate(fresh + end);
    }
    // The copy, because opening a database writes beside it, and the backup may be on a stick that is write-protected.
    refuseUnreadable(fresh, backup);
    const [fault] = checkFile(fresh);
    if (fault !== undefined) throw notRestorable(backup, fault);
    refuseContent(fresh, backup, leftOut);
    const file = openSync(fresh, 'r+');
    fsyncSync(file);
    closeSync(file);
    // A write-ahead log belongs to its database by name, so it is renamed too.
    for (const end of ENDINGS) {
      if (old !== null && existsSync(path + end)) renameSync(path + end, old + end);
      else rmSync(path + end, { force: true });
    }
    renameSync(fresh, path);
    // It describes the old database.
    removeMarker(folder);
  } catch (thrown) {
    for (const end of ENDINGS) rmSync(fresh + end, { force: true });
    if (thrown instanceof Problem) throw thrown;
    if (old !== null && !existsSync(path) && existsSync(old)) {
      for (const end of ENDINGS) if (existsSync(old + end)) renameSync(old + end, path + end);
    }
    throw new Problem(
      'database-unusable',
      `The backup could not be restored into ${folder}: ${messageOf(thrown)}.`,
      'Check that the disk has space and the folder is writable. The old database is unchanged.',
      { cause: thrown },
    );
  } finally {
    unlock();
  }
  // Carries it forward to the current layout.
  openDatabase(folder, false).close();
  return old;
}

/**
 * The old database, if a restore was killed after it had moved only that: its log, left behind, still belongs to it.
 * @returns null = there is none
 */
function movedWithoutLog(path: string): string | null {
  if (!existsSync(`${path}-wal`)) return null;
  const moved = readdirSync(dirname(path))
    .filter((name) => name.startsWith(`${DATABASE_FILE}.before-restore-`) && name.endsWith('Z'))
    .sort()
    .at(-1);
  return moved === undefined ? null : join(dirname(path), moved);
}

/**
 * A file whose blocks are all intact may still lack a table or hold impossible values, whoever made it. The service would
 * then not start any more, or fail when it reads them.
 */
function refuseContent(fresh: string, backup: string, leftOut?: (what: string) => void): void {
  const fault = faultOfContent(fresh, leftOut);
  if (fault !== null) throw notRestorable(backup, fault.what, fault.runId);
}

function faultOfContent(fresh: string, leftOut?: (what: string) => void): RecordFault | null {
  const db = new Sqlite(fresh);
  try {
    db.pragma('trusted_schema = OFF');
    migrate(db);
    watchRowChanges(db);
    let fault = faultOfRecord(db);
    for (; leftOut !== undefined && fault !== null && fault.runId !== null; fault = faultOfRecord(db)) {
      if (!removeRun(db, fault.runId)) break;
      leftOut(`run ${fault.runId}, because of ${fault.what}`);
    }
    sealRowGroups(db);
    db.pragma('wal_checkpoint(TRUNCATE)');
    return fault;
  } catch (thrown) {
    // A step of the migration needs what is not there.
    return { what: `it is incomplete (${messageOf(thrown)})`, runId: null };
  } finally {
    db.close();
  }
}

/** @returns whether there was such a run */
function removeRun(db: Sqlite.Database, runId: number): boolean {
  const { changes } = db.prepare(`UPDATE run SET deleted_ms = ${ABANDONED_MS} WHERE id = ?`).run(runId);
  const step = emptying(db);
  while (step(ABANDONED_MS + 1));
  return changes > 0;
}

function notRestorable(backup: string, what: string, runId: number | null = null): Problem {
  const without = runId === null ? '' : `, or restore it without run ${runId}: add ${LEAVE_OUT}`;
  return new Problem(
    'database-broken',
    `${backup} cannot be restored: ${what}.`,
    `Choose another backup${without}. Nothing was changed.`,
  );
}

/** Checked before anything is moved: a database that this program cannot open must not replace one that it can. */
function refuseUnreadable(fresh: string, backup: string): void {
  let strange: string | null;
  let db: Sqlite.Database | undefined;
  try {
    db = new Sqlite(fresh, { readonly: true, fileMustExist: true });
    db.pragma('trusted_schema = OFF');
    checkIdentity(db, backup);
    strange = faultOfSchema(db);
  } catch (thrown) {
    if (!(thrown instanceof Problem)) throw notRestorable(backup, messageOf(thrown));
    const newer = thrown.code === 'database-newer' ? 'Install the newer version, or choose' : 'Choose';
    throw new Problem(thrown.code, thrown.message, `${newer} another backup. Nothing was changed.`, { cause: thrown });
  } finally {
    db?.close();
  }
  if (strange !== null) throw notRestorable(backup, strange);
}
