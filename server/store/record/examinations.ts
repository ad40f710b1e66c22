import type { Database } from 'better-sqlite3';

/**
 * Results of reading a whole spool by certain limits, so that it need not be read again. They are never deleted: they take
 * kilobytes where the readings take megabytes, and once the readings are deleted they cannot be computed again.
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
        // Damaged, and so treated as missing: it is computed again while the readings exist.
        return null;
      }
    },
    keep(spoolId: number, inputs: string, examination: object): void {
      insert.run(spoolId, inputs, JSON.stringify(examination));
    },
  };
}
