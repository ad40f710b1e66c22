import type { Database } from 'better-sqlite3';

/** So many are kept of a spool: by that night's limits, and by those of the last printers that it was judged for. */
const KEPT_A_SPOOL = 4;

/** What all readings of a spool say by certain limits, so that it need not be read again. */
export function examinationTable(db: Database) {
  const one = db
    .prepare<[number, string], string>('SELECT payload FROM examination WHERE spool_id = ? AND inputs = ?')
    .pluck();
  const insert = db.prepare(
    'INSERT OR REPLACE INTO examination (spool_id, inputs, payload, kept_ms) VALUES (?, ?, ?, ?)',
  );
  const drop = db.prepare(
    `DELETE FROM examination WHERE spool_id = ? AND inputs NOT IN
     (SELECT inputs FROM examination WHERE spool_id = ? ORDER BY kept_ms DESC LIMIT ${KEPT_A_SPOOL})`,
  );
  return {
    find(spoolId: number, inputs: string): unknown {
      const payload = one.get(spoolId, inputs);
      if (payload === undefined) return null;
      try {
        return JSON.parse(payload);
      } catch {
        // Half written or damaged: it is derived, and is made again.
        return null;
      }
    },
    keep: db.transaction((spoolId: number, inputs: string, examination: object, atMs: number): void => {
      insert.run(spoolId, inputs, JSON.stringify(examination), atMs);
      drop.run(spoolId, spoolId);
    }),
  };
}
