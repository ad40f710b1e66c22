import Sqlite from 'better-sqlite3';
import { messageOf } from '../../problem/problem.ts';
import { missingIn } from '../migrations/migrate.ts';
import { checkParts, FAULTS_MAX } from './check-parts.ts';

/**
 * Checks a whole database: its structure by SQLite, whether it is complete, then the checksum of every group of rows, every block of
 * readings and every page of summaries. Takes some seconds per gigabyte.
 * @returns the faults as text; empty = none
 */
export function checkFile(path: string): string[] {
  let db: Sqlite.Database | undefined;
  try {
    db = new Sqlite(path, { readonly: true, fileMustExist: true });
    const lines = db.prepare(`PRAGMA integrity_check(${FAULTS_MAX})`).pluck().all() as string[];
    const faults = lines.filter((line) => line !== 'ok');
    const missing = missingIn(db);
    if (missing !== null) faults.push(`it is incomplete (${missing})`);
    faults.push(...checkParts(db, null, Number.POSITIVE_INFINITY).faults);
    return faults.slice(0, FAULTS_MAX);
  } catch (thrown) {
    return [messageOf(thrown)];
  } finally {
    db?.close();
  }
}
