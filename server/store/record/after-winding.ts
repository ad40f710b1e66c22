import type { Database } from 'better-sqlite3';
import type { KeptCut, LengthCorrection } from '../../monitor/ports.ts';

interface CutRow {
  id: number;
  action: string;
  counted_mm: number;
  landmark_counted_mm: number | null;
  reached_end: number;
  at_ms: number;
  who: string;
}

interface CorrectionRow {
  measured_mm: number | null;
  indicated_mm: number | null;
  uncertainty_mm: number | null;
  at_ms: number;
  who: string;
}

/** What people did with a spool after it was wound: cuts, names of coils, tape measurements. Append only. */
export function afterWinding(db: Database) {
  const counting = db.prepare<[number, number], CutRow>(
    `SELECT * FROM cut WHERE spool_id = ? AND takes_back IS NULL
     AND id NOT IN (SELECT takes_back FROM cut WHERE spool_id = ? AND takes_back IS NOT NULL) ORDER BY id`,
  );
  const insertCut = db.prepare(
    `INSERT INTO cut (spool_id, takes_back, action, counted_mm, landmark_counted_mm, reached_end, at_ms, who)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  const names = db.prepare<[number], { coil: number; name: string }>(
    `SELECT coil, name FROM coil_name WHERE id IN (SELECT max(id) FROM coil_name WHERE spool_id = ? GROUP BY coil)`,
  );
  const insertName = db.prepare('INSERT INTO coil_name (spool_id, coil, name, at_ms, who) VALUES (?, ?, ?, ?, ?)');
  const lastCorrection = db.prepare<[number], CorrectionRow>(
    'SELECT * FROM length_correction WHERE spool_id = ? ORDER BY id DESC LIMIT 1',
  );
  const insertCorrection = db.prepare(
    `INSERT INTO length_correction (spool_id, measured_mm, indicated_mm, uncertainty_mm, at_ms, who)
     VALUES (?, ?, ?, ?, ?, ?)`,
  );

  const cuts = (spoolId: number): KeptCut[] => counting.all(spoolId, spoolId).map(cutOf);
  return {
    cuts,
    addCut(spoolId: number, cut: Omit<KeptCut, 'id'>): KeptCut {
      const { action, countedMm, landmarkCountedMm, reachedEnd, atMs, who } = cut;
      const { lastInsertRowid } = insertCut.run(
        spoolId,
        null,
        action,
        countedMm,
        landmarkCountedMm,
        reachedEnd ? 1 : 0,
        atMs,
        who,
      );
      return { ...cut, id: Number(lastInsertRowid) };
    },
    takeBackLastCut: db.transaction((spoolId: number, atMs: number, who: string): KeptCut | null => {
      const last = cuts(spoolId).at(-1);
      if (last === undefined) return null;
      insertCut.run(spoolId, last.id, last.action, last.countedMm, last.landmarkCountedMm, 0, atMs, who);
      return last;
    }),
    coilNames: (spoolId: number): Map<number, string> =>
      new Map(names.all(spoolId).flatMap(({ coil, name }) => (name === '' ? [] : [[coil, name] as const]))),
    nameCoil(spoolId: number, coil: number, name: string, atMs: number, who: string): void {
      insertName.run(spoolId, coil, name, atMs, who);
    },
    lengthCorrection(spoolId: number): LengthCorrection | null {
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
    correctLength(
      spoolId: number,
      correction: Omit<LengthCorrection, 'atMs' | 'who'> | null,
      atMs: number,
      who: string,
    ): void {
      const { measuredMm, indicatedMm, uncertaintyMm } = correction ?? {};
      insertCorrection.run(spoolId, measuredMm ?? null, indicatedMm ?? null, uncertaintyMm ?? null, atMs, who);
    },
  };
}

function cutOf(row: CutRow): KeptCut {
  return {
    id: row.id,
    action: row.action === 'keep' ? 'keep' : 'discard',
    countedMm: row.counted_mm,
    landmarkCountedMm: row.landmark_counted_mm,
    reachedEnd: row.reached_end === 1,
    atMs: row.at_ms,
    who: row.who,
  };
}
