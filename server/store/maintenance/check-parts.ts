import Sqlite, { type Database } from 'better-sqlite3';
import type { CheckPlace } from '../../monitor/ports/maintenance.ts';
import { messageOf } from '../../problem/problem.ts';
import { countRowGroups, type ReadSome, readRowGroups } from '../row-checksums.ts';
import { BlockView } from '../samples/block-format.ts';
import { PageView } from '../samples/summary-page.ts';

/** A longer list would be of no more use. */
export const FAULTS_MAX = 20;
const READ_AT_A_TIME = 256;

/** Everything with a checksum, in the order in which it is read. */
const PARTS: readonly {
  count(db: Database): number;
  read(db: Database, after: CheckPlace['after'], limit: number): ReadSome;
}[] = [
  { count: countRowGroups, read: readRowGroups },
  blobs('sample_block', (data) => new BlockView(data)),
  blobs('sample_summary', (data) => new PageView(data)),
];

/** The result of reading a part. */
export interface CheckedPart {
  readonly read: number;
  readonly faults: readonly string[];
  /** Where to go on; null = everything was read. */
  readonly next: CheckPlace | null;
}

/**
 * Reads groups of rows, blocks of readings and pages of summaries, and compares each with its checksum.
 * @param from where an earlier part ended; null = the beginning
 */
export function checkParts(db: Database, from: CheckPlace | null, most: number): CheckedPart {
  let { part, after } = from ?? { part: 0, after: null };
  let read = 0;
  const faults: string[] = [];
  while (part < PARTS.length && read < most && faults.length < FAULTS_MAX) {
    const limit = Math.min(READ_AT_A_TIME, most - read);
    const some = PARTS[part]!.read(db, after, limit);
    faults.push(...some.faults);
    read += some.read;
    if (some.read < limit) {
      part++;
      after = null;
    } else after = some.last;
  }
  return { read, faults, next: part < PARTS.length ? { part, after } : null };
}

/** Reads a share of a whole database, at least one thing. @returns with the number of things there are */
export function checkShare(path: string, from: CheckPlace | null, share: number): CheckedPart & { total: number } {
  const db = new Sqlite(path, { readonly: true, fileMustExist: true });
  try {
    const total = PARTS.reduce((sum, part) => sum + part.count(db), 0);
    return { ...checkParts(db, from, Math.max(1, Math.ceil(total * share))), total };
  } finally {
    db.close();
  }
}

function blobs(table: string, read: (data: Uint8Array) => unknown): (typeof PARTS)[number] {
  return {
    count: (db) => Number(db.prepare(`SELECT count(*) FROM ${table}`).pluck().get()),
    read(db, after, limit) {
      const rows = db
        .prepare<[number, number], { id: number; data: Uint8Array }>(
          `SELECT id, data FROM ${table} WHERE id > ? ORDER BY id LIMIT ?`,
        )
        .all(Number(after ?? -1), limit);
      const faults = rows.flatMap(({ id, data }) => {
        try {
          read(data);
          return [];
        } catch (thrown) {
          return [`${table} ${id}: ${messageOf(thrown)}`];
        }
      });
      return { read: rows.length, faults, last: rows.at(-1)?.id ?? null };
    },
  };
}
