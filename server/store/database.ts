import { closeSync, existsSync, openSync, readSync, statSync } from 'node:fs';
import { dirname, join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { messageOf, Problem } from '../problem/problem.ts';
import { checkEngine, missingEngine } from './engine.ts';
import { lockFolder } from './folder-lock.ts';
import {
  backupBeforeUpdate,
  copyBeforeUpdate,
  removeOtherUpdates,
  removeUnfinished,
} from './maintenance/backup-before-update.ts';
import { backupsIn } from './maintenance/backup-list.ts';
import {
  dayAndTime,
  figuresOf,
  howToRestore,
  lostRecord,
  MARKER_FILE,
  type MarkedState,
  type Marker,
  readMarker,
  whatIsMissing,
  writeMarker,
} from './marker.ts';
import { LAYOUT, layoutOf, migrate } from './migrations/migrate.ts';
import { makePrivate, makePrivateFile, makePrivateFolder, sizeOf } from './private-files.ts';
import { sealRowGroups, watchRowChanges } from './row-checksums.ts';

/** Name of the database file in the data folder. */
export const DATABASE_FILE = 'strandward.sqlite';

/** 'StrW': marks a database of Strandward (`PRAGMA application_id`). */
const APPLICATION_ID = 0x53747257;

/** How long a start waits for another connection's lock. */
const BUSY_TIMEOUT_MS = 5000;
/** The same while the line is watched: the thread stands for that long. Readings can wait, and no other part of the service writes. */
const WRITE_TIMEOUT_MS = 100;

export interface OpenDatabase {
  readonly db: Sqlite.Database;
  readonly path: string;
  /** What may be missing although no marker says so, as a sentence; null = nothing. */
  readonly doubt: string | null;
  /** The backup made before this version changed the layout of the record, just now; null = it did not change it. */
  readonly updatedFrom: string | null;
  /** Saves what the database holds now, so that the next start notices what was lost. */
  mark(): void;
  /** Save whether the write-ahead log holds something; what else is marked stays as it was. */
  markLog(logged: boolean): void;
  /** Checkpoints and closes the database, and unlocks the folder. */
  close(): void;
}

/**
 * Opens the database of a data folder; creates it or carries its layout forward if necessary, after a backup. Nothing of
 * the record is ever deleted or overwritten here.
 * @param backupFolder where the backup is made, and where to look for one to offer if part of the record is lost (also looked
 *   for in the data folder); null = `backups` in the data folder
 * @throws Problem database-unusable, database-broken, database-newer, backup-failed
 */
export function openDatabase(folder: string, readOnly: boolean, backupFolder: string | null = null): OpenDatabase {
  const path = join(folder, DATABASE_FILE);
  if (!readOnly) makeFolder(folder);
  const unlock = readOnly ? () => {} : lockFolder(folder);
  let db: Sqlite.Database | undefined;
  let doubt: string | null = null;
  let updatedFrom: string | null = null;
  const backupFolders = [join(folder, 'backups'), ...(backupFolder === null ? [] : [backupFolder])];
  const log = `${path}-wal`;
  let marked: MarkedState | null = null;
  const save = (state: MarkedState) => {
    writeMarker(folder, state);
    marked = state;
  };
  const mark = (inUse: boolean, figures: ReturnType<typeof figuresOf>, update: string | null = null) => {
    const logged = inUse && sizeOf(log) > 0;
    save({ ...figures, bytes: sizeOf(path), timeMs: Date.now(), inUse, logged, update });
  };
  const markLog = (logged: boolean) => {
    if (marked !== null && marked.logged !== logged) save({ ...marked, logged });
  };
  try {
    refuseFolder(path);
    refuseTruncated(path);
    const marker = readMarker(folder);
    const lost = (marker: Marker, what: string) => lostRecord(path, marker, what, backupFolders);
    const logMissing = !existsSync(log) || (marker?.state?.logged === true && sizeOf(log) === 0);
    if (marker !== null && sizeOf(path) === 0)
      throw lost(marker, existsSync(path) ? 'the database is empty (0 bytes)' : 'the database is missing');
    if (!readOnly) {
      if (marker === null && sizeOf(path) === 0) doubt = beganAnew(path);
      // SQLite gives a new log the mode of its database; one left by a kill keeps its own.
      makePrivateFile(path);
      for (const end of ['-wal', '-shm']) makePrivate(path + end);
    }
    db = openFile(path, readOnly);
    checkEngine(db);
    checkIdentity(db, path);
    if (readOnly) {
      if (layoutOf(db) === 0)
        throw new Problem('database-unusable', `There is no record in ${path}.`, 'Check the data folder.');
      db.pragma('query_only = ON');
    } else {
      if (marker?.state) {
        const missing = whatIsMissing(db, marker.state);
        const lostItsLog = logMissing && marker.state.inUse;
        if (missing !== null)
          throw lost(marker, lostItsLog ? `${missing}; its write-ahead log is missing or empty, too` : missing);
        if (lostItsLog) doubt = lostLog(marker.state.timeMs);
      }
      const found = db;
      if (isOlder(layoutOf(found))) {
        updatedFrom = keptBeforeUpdate(found, backupFolder ?? join(folder, 'backups'), marker, (backup) =>
          mark(marker?.state?.inUse ?? false, figuresOf(found), backup),
        );
      }
      setUp(db);
      carryForward(db, path, updatedFrom);
      if (updatedFrom !== null) removeOtherUpdates(dirname(updatedFrom), updatedFrom);
      watchRowChanges(db);
      db.pragma(`application_id = ${APPLICATION_ID}`);
    }
    checkRecord(db);
  } catch (thrown) {
    db?.close();
    unlock();
    throw asProblem(thrown, path, backupFolders);
  }
  const opened = db;
  if (!readOnly) opened.pragma(`busy_timeout = ${WRITE_TIMEOUT_MS}`);
  return {
    db: opened,
    path,
    doubt,
    updatedFrom,
    mark: () => mark(true, figuresOf(opened)),
    markLog,
    close() {
      try {
        if (readOnly) return opened.close();
        sealRowGroups(opened);
        opened.pragma('wal_checkpoint(TRUNCATE)');
        const figures = figuresOf(opened);
        opened.close();
        mark(false, figures);
      } finally {
        opened.close();
        unlock();
      }
    },
  };
}

/** Whether this version must change a record of that layout. */
const isOlder = (layout: number): boolean => layout > 0 && layout < LAYOUT;

/**
 * The folders that opening a record uses because this version must change its layout: where the backup is, or will be. They may hang.
 * The database is not opened, because that may create or remove its write-ahead log.
 */
export function foldersOfUpdate(folder: string, backupFolder: string | null): string[] {
  try {
    // PRAGMA user_version. One that is only in the log yet is newer: at worst, a folder is waited for that is not used.
    if (!isOlder(headerOf(join(folder, DATABASE_FILE)).readUInt32BE(60))) return [];
    const begun = readMarker(folder)?.state?.update ?? null;
    return [...(begun === null ? [] : [dirname(begun)]), backupFolder ?? join(folder, 'backups')];
  } catch {
    // There is no record, or it cannot be read. Opening it says so.
    return [];
  }
}

/**
 * Keeps the record as it is before the update. If the update was killed, the backup from before it counts: what the marker
 * says about it is gone as soon as any version has used the record.
 * @param note saves which backup is made, in the marker
 * @returns its path
 */
function keptBeforeUpdate(
  db: Sqlite.Database,
  backupFolder: string,
  marker: Marker | null,
  note: (backup: string) => void,
): string {
  const begun = marker?.state?.update ?? null;
  if (begun !== null && existsSync(begun)) return begun;
  if (begun !== null) removeUnfinished(begun);
  const backup = backupBeforeUpdate(backupFolder, Date.now());
  note(backup);
  copyBeforeUpdate(db, backupFolder, backup);
  return backup;
}

function carryForward(db: Sqlite.Database, path: string, backup: string | null): void {
  try {
    migrate(db);
  } catch (thrown) {
    if (backup === null) throw thrown;
    throw new Problem(
      'database-unusable',
      `The layout of the record ${path} cannot be changed for this version: ${messageOf(thrown)}.`,
      `Nothing is lost. Install the previous version, and restore its record: strandward restore '${backup}' --data '${dirname(path)}'.`,
      { cause: thrown },
    );
  }
}

function makeFolder(folder: string): void {
  try {
    makePrivateFolder(folder);
  } catch (thrown) {
    throw new Problem(
      'database-unusable',
      `The data folder ${folder} cannot be created: ${messageOf(thrown)}.`,
      'Choose a folder that the service’s user may write to.',
      { cause: thrown },
    );
  }
}

function refuseFolder(path: string): void {
  if (existsSync(path) && !statSync(path).isFile()) {
    throw new Problem('database-unusable', `${path} is not a file.`, 'Move it away, or choose another data folder.');
  }
}

function openFile(path: string, readOnly: boolean): Sqlite.Database {
  if (readOnly && !existsSync(path)) {
    throw new Problem('database-unusable', `There is no database ${path}.`, 'Check the data folder.');
  }
  return new Sqlite(path, { readonly: readOnly, fileMustExist: readOnly, timeout: BUSY_TIMEOUT_MS });
}

function setUp(db: Sqlite.Database): void {
  // Must be set before the first page is written. Free pages can then be released in small steps, without rewriting the
  // whole file on an SD card.
  db.pragma('auto_vacuum = INCREMENTAL');
  db.pragma('journal_mode = WAL');
  // The default in WAL mode is NORMAL, where a power cut may lose the last commits. A user's entry must be safe when the
  // call returns, so every commit reaches the disk. Readings are committed once a second.
  db.pragma('synchronous = FULL');
  db.pragma('foreign_keys = ON');
  db.pragma(`busy_timeout = ${BUSY_TIMEOUT_MS}`);
  // A checkpoint shrinks the WAL file to this, however large a slow reader made it.
  db.pragma('journal_size_limit = 8388608');
  db.pragma('temp_store = MEMORY');
  // KiB, negative. The writer only appends and other connections read, so the default of 16 MB is of no use.
  db.pragma('cache_size = -2000');
}

/**
 * Refuses a database of another program or of a newer Strandward.
 * @throws Problem database-broken, database-newer
 */
export function checkIdentity(db: Sqlite.Database, path: string): void {
  const layout = layoutOf(db);
  const id = Number(db.pragma('application_id', { simple: true }));
  const tables = Number(db.prepare('SELECT count(*) FROM sqlite_schema').pluck().get());
  if (tables === 0 && layout === 0) return;
  // A kill between the first migration and the stamp leaves id 0 with our tables.
  const ours = id === APPLICATION_ID || (id === 0 && hasRuns(db));
  if (!ours) {
    throw new Problem(
      'database-broken',
      `${path} is a database of another program.`,
      'Move it away, or choose another data folder. Nothing was changed.',
    );
  }
  if (layout > LAYOUT) {
    throw new Problem(
      'database-newer',
      `${path} was written by a newer Strandward (layout ${layout}; this version reads up to ${LAYOUT}).`,
      'Install the newer version, or choose another data folder. Nothing was changed.',
    );
  }
}

function hasRuns(db: Sqlite.Database): boolean {
  return db.prepare("SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'run'").get() !== undefined;
}

/**
 * All tables but those of readings are checked at every start. Blocks of readings may fill gigabytes; each has a checksum
 * that is checked when it is read.
 */
function checkRecord(db: Sqlite.Database): void {
  const tables = db
    .prepare(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT IN ('sample_block', 'sample_summary', 'sqlite_sequence')",
    )
    .pluck()
    .all() as string[];
  for (const table of tables) {
    const result = String(db.pragma(`quick_check('${table}')`, { simple: true }));
    if (result !== 'ok') throw new Damaged(`table ${table}: ${result.replace(/^\*{3} .* \*{3}\s*/, '')}`);
  }
}

/**
 * Refuses a file that is shorter than its header says: its end was lost, by an interrupted copy or a faulty card. SQLite
 * would notice only when it needs a lost page. With a write-ahead log the file may rightly be shorter.
 */
function refuseTruncated(path: string): void {
  const size = sizeOf(path);
  if (size === 0 || sizeOf(`${path}-wal`) > 0) return;
  const header = headerOf(path);
  if (header.toString('latin1', 0, 15) !== 'SQLite format 3') throw new Damaged('it is not a database');
  const rawPageSize = header.readUInt16BE(16);
  const pageSize = rawPageSize === 1 ? 65536 : rawPageSize;
  const promised = header.readUInt32BE(28) * pageSize;
  if (size < promised) throw new Damaged(`it has only ${size} of ${promised} bytes`);
}

function headerOf(path: string): Buffer {
  const header = Buffer.alloc(100);
  const file = openSync(path, 'r');
  try {
    readSync(file, header, 0, 100, 0);
  } finally {
    closeSync(file);
  }
  return header;
}

/** What is suspicious about a folder in which a new record begins; null = nothing. Looks only within the folder: another may hang. */
function beganAnew(path: string): string | null {
  const folder = dirname(path);
  const hasBackups = backupsIn(join(folder, 'backups')).length > 0;
  if (!hasBackups && !existsSync(path)) return null;
  const found = existsSync(path) ? 'The database was empty (0 bytes)' : 'There was no database';
  const toRestore = hasBackups
    ? howToRestore(folder, [join(folder, 'backups')])
    : `If it held anything, restore a backup: strandward restore FILE --data '${folder}'.`;
  return `${found}, and nothing says what it held, so a new record has begun. ${toRestore}`;
}

/** A program that opened the database after a kill removes the log too, but writes its content to the database first. */
function lostLog(markedMs: number): string {
  return `The write-ahead log of the last session is missing or empty. Unless another program opened the record since, what was recorded after ${dayAndTime(markedMs)} is lost. Everything up to then is there.`;
}

/** What is wrong with the file, as the end of a sentence. */
class Damaged extends Error {}

function asProblem(thrown: unknown, path: string, backupFolders: readonly string[]): unknown {
  const missing = missingEngine(thrown);
  if (missing !== null) return missing;
  const folder = dirname(path);
  if (
    thrown instanceof Damaged ||
    (thrown instanceof Sqlite.SqliteError && /^SQLITE_(NOTADB|CORRUPT)/.test(thrown.code))
  ) {
    return new Problem(
      'database-broken',
      `The database ${path} is damaged: ${messageOf(thrown)}.`,
      `Keep a copy of the file. ${howToRestore(folder, backupFolders)} To start again instead, move the file and ${join(folder, MARKER_FILE)} away. Nothing was deleted or overwritten.`,
      { cause: thrown },
    );
  }
  // Errors of the file system (no permission, a failing card) are reported like those of the engine.
  const fileError = thrown instanceof Error && 'errno' in thrown;
  if (!(thrown instanceof Sqlite.SqliteError || fileError)) return thrown;
  return new Problem(
    'database-unusable',
    `The database ${path} cannot be opened: ${messageOf(thrown)}.`,
    'Check that the service’s user may write to the data folder, that its disk is not full, and that no other program has locked the file.',
    { cause: thrown },
  );
}
