import type { Database } from 'better-sqlite3';
import type { LengthCorrection } from '../../entities/spool.ts';

interface CorrectionRow {
  measured_mm: number | null;
  indicated_mm: number | null;
  uncertainty_mm: number | null;
  at_ms: number;
  who: string;
}

/** Lengths that users measured with a tape. Append only: the latest row counts. */
export function lengthCorrectionTable(db: Database) {
  const lastCorrection = db.prepare<[number], CorrectionRow>(
    'SELECT * FROM length_correction WHERE spool_id = ? ORDER BY id DESC LIMIT 1',
  );
  const insertCorrection = db.prepare(
    `INSERT INTO length_correction (spool_id, measured_mm, indicated_mm, uncertainty_mm, at_ms, who)
     VALUES (?, ?, ?, ?, ?, ?)`,
  );

  return {
    find(spoolId: number): LengthCorrection | null {
      const row = lastCorrection.get(spoolId);
      if (!row || row.measured_mm === null || row.indicated_mm === null || row.uncertainty_mm === null) return null;
      return {
        measuredMm: row.measured_mm,
        indicatedMm: row.indicated_mm,
        uncertaintyMm: row.uncertainty_mm,
        atMs: row.at_ms,
        who: row.who,
      };
    },
    add(spoolId: number, correction: Omit<LengthCorrection, 'atMs' | 'who'> | null, atMs: number, who: string): void {
      const { measuredMm, indicatedMm, uncertaintyMm } = correction ?? {};
      insertCorrection.run(spoolId, measuredMm ?? null, indicatedMm ?? null, uncertaintyMm ?? null, atMs, who);
    },
  };
}
