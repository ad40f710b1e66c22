import Sqlite from 'better-sqlite3';
import { messageOf, Problem } from '../problem/problem.ts';

/**
 * The record cannot be written at the moment. Nothing accepted is lost: readings wait in memory and are written when the
 * disk works again, and a user's entry is refused with this error.
 */
export class RecordFailing extends Problem {
  readonly reason: 'full' | 'io';

  constructor(reason: 'full' | 'io', message: string, remedy: string, options?: ErrorOptions) {
    super('record-failing', message, remedy, options);
    this.name = 'RecordFailing';
    this.reason = reason;
  }
}

/** The problem for an error of the engine while writing. Anything that is no fault of the disk is returned unchanged. */
export function asRecordFailing(thrown: unknown, path: string): unknown {
  if (!(thrown instanceof Sqlite.SqliteError)) return thrown;
  if (thrown.code === 'SQLITE_FULL' && numbersUsedUp(path))
    return databaseBroken('a table has no more numbers for its rows', path, thrown);
  if (thrown.code === 'SQLITE_FULL') {
    return new RecordFailing(
      'full',
      `The disk that holds ${path} is full.`,
      'Free some space on that disk. Readings wait in memory and are written as soon as there is space.',
      { cause: thrown },
    );
  }
  if (/^SQLITE_(IOERR|READONLY|CANTOPEN|BUSY)/.test(thrown.code)) {
    return new RecordFailing(
      'io',
      `The record ${path} cannot be written: ${whyNot(thrown)}.`,
      'Check the disk or SD card and its permissions. Readings wait in memory and are written as soon as it works again.',
      { cause: thrown },
    );
  }
  if (/^SQLITE_(CORRUPT|NOTADB)/.test(thrown.code)) return databaseBroken(messageOf(thrown), path, thrown);
  return thrown;
}

/** The engine calls that “full” as well. */
function numbersUsedUp(path: string): boolean {
  let db: Sqlite.Database | undefined;
  try {
    db = new Sqlite(path, { readonly: true });
    return db.prepare('SELECT 1 FROM sqlite_sequence WHERE seq >= 9223372036854775807').get() !== undefined;
  } catch {
    // The disk is the fault.
    return false;
  } finally {
    db?.close();
  }
}

/** In plain words, also of a file that is not in its place (`file-in-place.ts`). */
function whyNot(thrown: InstanceType<typeof Sqlite.SqliteError>): string {
  const { code } = thrown;
  if (code.startsWith('SQLITE_BUSY')) return 'another program has locked it';
  return code.startsWith('SQLITE_READONLY') ? 'its file is read-only, or was moved or deleted' : messageOf(thrown);
}

/** The problem for an error of the engine while what an earlier process left is written. Its rows may contradict each other. */
export function asOpeningFailing(thrown: unknown, path: string): unknown {
  const isContradiction = thrown instanceof Sqlite.SqliteError && thrown.code.startsWith('SQLITE_CONSTRAINT');
  return isContradiction ? databaseBroken(thrown.message, path, thrown) : asRecordFailing(thrown, path);
}

const databaseBroken = (what: string, path: string, thrown: Error): Problem =>
  new Problem(
    'database-broken',
    `The database ${path} is damaged: ${what}.`,
    'Stop the service, keep a copy of the file, and restore the last backup. Nothing was deleted.',
    { cause: thrown },
  );

/** The problem for an error of the engine while reading: a memory card at the end of its life fails so. */
function asUnreadable(thrown: unknown, path: string): unknown {
  if (!(thrown instanceof Sqlite.SqliteError && /^SQLITE_(IOERR|CORRUPT|NOTADB|CANTOPEN)/.test(thrown.code)))
    return thrown;
  // The engine also says so of a page that the disk does not return.
  const isDamaged = /^SQLITE_(CORRUPT|NOTADB)/.test(thrown.code);
  return new Problem(
    'database-broken',
    `The record ${path} cannot be read: ${isDamaged ? 'it is damaged, or its disk fails' : messageOf(thrown)}.`,
    'Check the disk or SD card. If it happens again, stop the service, keep a copy of the file, and restore the last backup.',
    { cause: thrown },
  );
}

/**
 * Wraps an object of functions that read the record at `path`, so that a failing disk is reported as `database-broken`.
 * @param failed called each time with why it cannot be read
 */
export function guardedReads<T extends object>(reads: T, path: string, failed: (why: string) => void = () => {}): T {
  const fail = (thrown: unknown): never => {
    const problem = asUnreadable(thrown, path);
    if (problem instanceof Problem && problem.code === 'database-broken') failed(problem.message);
    throw problem;
  };
  const guarded = Object.entries(reads).map(([name, read]: [string, (...args: unknown[]) => unknown]) => [
    name,
    (...args: unknown[]) => {
      try {
        const result = read(...args);
        return result instanceof Promise ? result.catch(fail) : result;
      } catch (thrown) {
        return fail(thrown);
      }
    },
  ]);
  return Object.fromEntries(guarded);
}

/** Wraps functions that write to the record at `path`, so that a failing disk is reported as `RecordFailing`. */
export const guardedAt =
  (path: string) =>
  <A extends unknown[], R>(write: (...args: A) => R) =>
  (...args: A): R => {
    try {
      return write(...args);
    } catch (thrown) {
      throw asRecordFailing(thrown, path);
    }
  };
