import type { Database } from 'better-sqlite3';
import type { Weighing } from '../../entities/spool.ts';

interface WeighingRow {
  gross_g: number | null;
  tare_g: number | null;
  uncertainty_g: number | null;
  at_ms: number;
  who: string;
}

/** Spools that users weighed. Append only: the latest row counts. */
export function weighingTable(db: Database) {
  const last = db.prepare<[number], WeighingRow>(
    'SELECT * FROM spool_weighing WHERE spool_id = ? ORDER BY id DESC LIMIT 1',
  );
  const insert = db.prepare(
    'INSERT INTO spool_weighing (spool_id, gross_g, tare_g, uncertainty_g, at_ms, who) VALUES (?, ?, ?, ?, ?, ?)',
  );

  return {
    find(spoolId: number): Weighing | null {
      const row = last.get(spoolId);
      if (!row || row.gross_g === null || row.tare_g === null || row.uncertainty_g === null) return null;
      return {
        grossG: row.gross_g,
        tareG: row.tare_g,
        uncertaintyG: row.uncertainty_g,
        atMs: row.at_ms,
        who: row.who,
      };
    },
    add(spoolId: number, weighing: Omit<Weighing, 'atMs' | 'who'> | null, atMs: number, who: string): void {
      const { grossG = null, tareG = null, uncertaintyG = null } = weighing ?? {};
      insert.run(spoolId, grossG, tareG, uncertaintyG, atMs, who);
    },
  };
}
