import type { Database } from 'better-sqlite3';

/**
 * What all readings of a spool say by certain limits, so that it need not be read again. Nothing is ever dropped: it takes
 * some kilobytes where the readings take megabytes, and once these were let go it cannot be worked out again.
 */
export function examinationTable(db: Database) {
  const one = db
    .prepare<[number, string], string>('SELECT payload FROM examination WHERE spool_id = ? AND inputs = ?')
    .pluck();
  const insert = db.prepare('INSERT OR REPLACE INTO examination (spool_id, inputs, payload) VALUES (?, ?, ?)');
  return {
    find(spoolId: number, inputs: string): unknown {
      const payload = one.get(spoolId, inputs);
      if (payload === undefined) return null;
      try {
        return JSON.parse(payload);
      } catch {
        // Damaged: as good as none. While the readings are there, it is made again.
        return null;
      }
    },
    keep(spoolId: number, inputs: string, examination: object): void {
      insert.run(spoolId, inputs, JSON.stringify(examination));
    },
  };
}
