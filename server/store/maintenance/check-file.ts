import Sqlite from 'better-sqlite3';
import { messageOf } from '../../problem/problem.ts';
import { checkRowGroups } from '../row-checksums.ts';
import { BlockView } from '../samples/block-format.ts';
import { PageView } from '../samples/summary-page.ts';

/** A longer list would be of no more use. */
const FAULTS_MAX = 20;
const ROWS_AT_A_TIME = 256;

/**
 * Checks a whole database: its structure by SQLite, then the checksum of every group of rows, every block of
 * readings and every page of summaries. Takes some seconds per gigabyte.
 * @returns the faults as text; empty = none
 */
export function checkFile(path: string): string[] {
  let db: Sqlite.Database | undefined;
  try {
    db = new Sqlite(path, { readonly: true, fileMustExist: true });
    const lines = db.prepare(`PRAGMA integrity_check(${FAULTS_MAX})`).pluck().all() as string[];
    const faults = lines.filter((line) => line !== 'ok');
    faults.push(...checkRowGroups(db));
    faults.push(...checkRows(db, 'sample_block', (data) => new BlockView(data)));
    faults.push(...checkRows(db, 'sample_summary', (data) => new PageView(data)));
    return faults.slice(0, FAULTS_MAX);
  } catch (thrown) {
    return [messageOf(thrown)];
  } finally {
    db?.close();
  }
}

function checkRows(db: Sqlite.Database, table: string, read: (data: Uint8Array) => unknown): string[] {
  const faults: string[] = [];
  const page = db.prepare<[number], { id: number; data: Uint8Array }>(
    `SELECT id, data FROM ${table} WHERE id > ? ORDER BY id LIMIT ${ROWS_AT_A_TIME}`,
  );
  let last = -1;
  for (;;) {
    const rows = page.all(last);
    for (const { id, data } of rows) {
      last = id;
      try {
        read(data);
      } catch (thrown) {
        faults.push(`${table} ${id}: ${messageOf(thrown)}`);
        if (faults.length >= FAULTS_MAX) return faults;
      }
    }
    if (rows.length < ROWS_AT_A_TIME) return faults;
  }
}
