import { statSync } from 'node:fs';
import type { Database } from 'better-sqlite3';
import { RecordFailing } from './record-failing.ts';

/**
 * SQLite goes on writing to a database that was moved or deleted, and what it writes then is lost with the next stop.
 * @returns to be called once a second. While the file is not in its place, nothing can be written and it throws RecordFailing
 */
export function keptInPlace(db: Database, path: string): () => void {
  const place = () => {
    const { dev, ino } = statSync(path, { bigint: true, throwIfNoEntry: false }) ?? {};
    return `${dev}:${ino}`;
  };
  const own = place();
  let isInPlace = true;
  return () => {
    const isNow = place() === own;
    if (isNow !== isInPlace) db.pragma(`query_only = ${isNow ? 'OFF' : 'ON'}`);
    isInPlace = isNow;
    if (isNow) return;
    throw new RecordFailing(
      'io',
      `The database ${path} was moved, replaced or deleted while it was in use.`,
      'Put the same file back, or restart Strandward: it says what is lost and how to restore a backup.',
    );
  };
}
