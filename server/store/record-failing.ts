import Sqlite from 'better-sqlite3';
import { messageOf, Problem } from '../problem/problem.ts';

/**
 * The record cannot be written at the moment. Nothing that was accepted is forgotten: readings wait in memory and are
 * written when it works again; a person's word was not accepted.
 */
export class RecordFailing extends Problem {
  readonly reason: 'full' | 'io';

  constructor(reason: 'full' | 'io', message: string, remedy: string, options?: ErrorOptions) {
    super('database-unusable', message, remedy, options);
    this.name = 'RecordFailing';
    this.reason = reason;
  }
}

/** What the engine threw while writing, in words; anything that is no fault of the disk comes back as it is. */
export function asRecordFailing(thrown: unknown, path: string): unknown {
  if (!(thrown instanceof Sqlite.SqliteError)) return thrown;
  if (thrown.code === 'SQLITE_FULL') {
    return new RecordFailing(
      'full',
      `The disk that holds ${path} is full: the record cannot grow.`,
      'Free some space on that disk. Readings wait in memory and are written as soon as there is room.',
      { cause: thrown },
    );
  }
  if (/^SQLITE_(IOERR|READONLY|CANTOPEN|BUSY)/.test(thrown.code)) {
    return new RecordFailing(
      'io',
      `The record ${path} cannot be written: ${messageOf(thrown)}.`,
      'Check the disk or the SD card and its permissions. Readings wait in memory and are written as soon as it works again.',
      { cause: thrown },
    );
  }
  if (/^SQLITE_(CORRUPT|NOTADB)/.test(thrown.code)) {
    return new Problem(
      'database-broken',
      `The database ${path} is damaged: ${messageOf(thrown)}.`,
      'Stop the service, keep a copy of the file, and restore the last backup. Nothing was deleted.',
      { cause: thrown },
    );
  }
  return thrown;
}

/** Lets what writes to the record at `path` say in words that the disk refused. */
export const guardedAt =
  (path: string) =>
  <A extends unknown[], R>(write: (...given: A) => R) =>
  (...given: A): R => {
    try {
      return write(...given);
    } catch (thrown) {
      throw asRecordFailing(thrown, path);
    }
  };
