import { closeSync, existsSync, mkdirSync, openSync, readSync, statSync } from 'node:fs';
import { join } from 'node:path';
import Sqlite from 'better-sqlite3';
import { messageOf, Problem } from '../problem/problem.ts';
import { lockFolder } from './folder-lock.ts';
import { LAYOUT, layoutOf, migrate } from './migrations/migrate.ts';

/** Name of the database file in the data folder. */
export const DATABASE_FILE = 'strandward.sqlite';

/** 'StrW': tells our file from any other SQLite database (`PRAGMA application_id`). */
const APPLICATION_ID = 0x53747257;

/** Before 3.51.3 a rare race of two connections could damage a WAL database. */
const ENGINE_MIN = [3, 51, 3] as const;

/** How long a statement waits for another connection's lock. */
export const BUSY_TIMEOUT_MS = 5000;

export interface OpenDatabase {
  readonly db: Sqlite.Database;
  readonly path: string;
  /** Checkpoint, close, let the folder go. */
  close(): void;
}

/**
 * Open (and create, and carry forward) the database of a data folder. Nothing is ever deleted or overwritten here.
 * @throws Problem database-unusable, database-broken, database-newer
 */
export function openDatabase(folder: string, readOnly: boolean): OpenDatabase {
  const path = join(folder, DATABASE_FILE);
  if (!readOnly) makeFolder(folder);
  const unlock = readOnly ? () => {} : lockFolder(folder);
  let db: Sqlite.Database | undefined;
  try {
    refuseFolder(path);
    refuseTruncated(path);
    db = openFile(path, readOnly);
    checkEngine(db);
    checkIdentity(db, path);
    if (readOnly) {
      db.pragma('query_only = ON');
    } else {
      setUp(db);
      migrate(db);
      db.pragma(`application_id = ${APPLICATION_ID}`);
    }
    checkRecord(db, path);
  } catch (thrown) {
    db?.close();
    unlock();
    throw inText(thrown, path);
  }
  const opened = db;
  return {
    db: opened,
    path,
    close() {
      try {
        if (!readOnly) opened.pragma('wal_checkpoint(TRUNCATE)');
      } finally {
        opened.close();
        unlock();
      }
    },
  };
}

function makeFolder(folder: string): void {
  try {
    mkdirSync(folder, { recursive: true });
  } catch (thrown) {
    throw new Problem(
      'database-unusable',
      `The data folder ${folder} cannot be made: ${messageOf(thrown)}.`,
      'Choose a folder that the user who runs the service may write to.',
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
  // Only possible before the first page is written: space of deleted rows can later be given back page by page, without
  // rewriting the whole file on an SD card.
  db.pragma('auto_vacuum = INCREMENTAL');
  db.pragma('journal_mode = WAL');
  // The library's own default in WAL is NORMAL, where the last commits may vanish on a power cut. A word that a person
  // said was accepted when the call returned: so every commit reaches the disk. Readings commit once a second.
  db.pragma('synchronous = FULL');
  db.pragma('foreign_keys = ON');
  db.pragma(`busy_timeout = ${BUSY_TIMEOUT_MS}`);
  // After a checkpoint the WAL file shrinks to this, however large a slow reader once made it.
  db.pragma('journal_size_limit = 8388608');
  db.pragma('temp_store = MEMORY');
  // KiB. The writer appends: what it wrote is read by other connections, so 16 MB of it (the library's own default) are no use.
  db.pragma('cache_size = -2000');
}

function checkEngine(db: Sqlite.Database): void {
  const version = String(db.prepare('SELECT sqlite_version()').pluck().get());
  const parts = version.split('.').map(Number);
  for (let i = 0; i < ENGINE_MIN.length; i++) {
    const part = parts[i] ?? 0;
    if (part > ENGINE_MIN[i]!) return;
    if (part < ENGINE_MIN[i]!) {
      throw new Problem(
        'database-unusable',
        `The SQLite engine ${version} is older than ${ENGINE_MIN.join('.')} and could damage the database.`,
        'Install the versions that package-lock.json names: npm ci.',
      );
    }
  }
}

/**
 * Refuse another program's database, and one of a newer Strandward.
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
      `${path} was written by a newer Strandward (layout ${layout}; this one knows up to ${LAYOUT}).`,
      'Install the newer version, or choose another data folder. Nothing was changed.',
    );
  }
}

function hasRuns(db: Sqlite.Database): boolean {
  return db.prepare("SELECT 1 FROM sqlite_schema WHERE type = 'table' AND name = 'run'").get() !== undefined;
}

/**
 * The record's own tables are checked at every start. The blocks of readings, which may fill gigabytes, are not: each
 * carries a checksum that is checked when it is read.
 */
function checkRecord(db: Sqlite.Database, path: string): void {
  const tables = db
    .prepare(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT IN ('sample_block', 'sample_summary', 'sqlite_sequence')",
    )
    .pluck()
    .all() as string[];
  for (const table of tables) {
    const result = String(db.pragma(`quick_check('${table}')`, { simple: true }));
    if (result !== 'ok') throw broken(path, `table ${table}: ${result}`);
  }
}

/**
 * A file that is shorter than its header says lost its end (a copy that broke off, a card that lies). SQLite itself would
 * notice only when a lost page is needed. With a WAL beside it the file may lag behind rightly.
 */
function refuseTruncated(path: string): void {
  const size = sizeOf(path);
  if (size === 0 || sizeOf(`${path}-wal`) > 0) return;
  const header = Buffer.alloc(100);
  const file = openSync(path, 'r');
  try {
    readSync(file, header, 0, 100, 0);
  } finally {
    closeSync(file);
  }
  if (header.toString('latin1', 0, 15) !== 'SQLite format 3') throw broken(path, 'it is not a database');
  const rawPageSize = header.readUInt16BE(16);
  const pageSize = rawPageSize === 1 ? 65536 : rawPageSize;
  const promised = header.readUInt32BE(28) * pageSize;
  if (size < promised) throw broken(path, `${size} of ${promised} bytes are there`);
}

/** Bytes of a file; 0 when there is none. */
export function sizeOf(path: string): number {
  return statSync(path, { throwIfNoEntry: false })?.size ?? 0;
}

function broken(path: string, what: string, cause?: unknown): Problem {
  return new Problem(
    'database-broken',
    `The database ${path} is damaged: ${what}.`,
    'Keep a copy of the file, then restore the last backup into the data folder, or move the file away to start anew. Nothing was deleted or overwritten.',
    { cause },
  );
}

function inText(thrown: unknown, path: string): unknown {
  // What the file system refused (no permission, a failing card) is told like what the engine refused.
  const refused = thrown instanceof Error && 'errno' in thrown;
  if (!(thrown instanceof Sqlite.SqliteError || refused)) return thrown;
  if (thrown instanceof Sqlite.SqliteError && /^SQLITE_(NOTADB|CORRUPT)/.test(thrown.code))
    return broken(path, messageOf(thrown), thrown);
  return new Problem(
    'database-unusable',
    `The database ${path} cannot be opened: ${messageOf(thrown)}.`,
    'Check that the data folder is writable for the user that runs the service, that its disk is not full, and that no other program holds the file.',
    { cause: thrown },
  );
}
