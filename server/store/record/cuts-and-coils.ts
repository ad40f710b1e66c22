import type { Database } from 'better-sqlite3';
import type { CoilName, KeptCut, LengthCorrection, SpoolChoices } from '../../entities/spool.ts';

interface CutRow {
  id: number;
  action: string;
  counted_mm: number;
  landmark_counted_mm: number | null;
  reached_end: number;
  at_ms: number;
  who: string;
  from_gauge_mm: number | null;
  to_gauge_mm: number | null;
  known_to_gauge_mm: number | null;
  known_after_gauge_mm: number | null;
  length_factor: number | null;
}

interface NameRow {
  id: number;
  coil: number;
  name: string;
  from_gauge_mm: number | null;
  to_gauge_mm: number | null;
}

interface ChoiceRow {
  printer_id: number;
  objective: string;
  shortest_mm: number | null;
  doubtful: string;
  unknown: string;
}

interface CorrectionRow {
  measured_mm: number | null;
  indicated_mm: number | null;
  uncertainty_mm: number | null;
  at_ms: number;
  who: string;
}

/** What users do with a spool after winding: choices, cuts, names of coils, tape measurements. Append only. */
export function cutsAndCoils(db: Database) {
  const counting = db.prepare<[number, number], CutRow>(
    `SELECT * FROM cut WHERE spool_id = ? AND takes_back IS NULL
     AND id NOT IN (SELECT takes_back FROM cut WHERE spool_id = ? AND takes_back IS NOT NULL) ORDER BY id`,
  );
  const insertCut = db.prepare(
    `INSERT INTO cut (spool_id, takes_back, action, counted_mm, landmark_counted_mm, reached_end, at_ms, who,
       from_gauge_mm, to_gauge_mm, known_to_gauge_mm, known_after_gauge_mm, length_factor)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  const names = db.prepare<[number], NameRow>('SELECT * FROM coil_name WHERE spool_id = ? ORDER BY id');
  const insertName = db.prepare(
    'INSERT INTO coil_name (spool_id, coil, name, from_gauge_mm, to_gauge_mm, at_ms, who) VALUES (?, ?, ?, ?, ?, ?, ?)',
  );
  const placeName = db.prepare('UPDATE coil_name SET from_gauge_mm = ?, to_gauge_mm = ? WHERE id = ?');
  const lastChoice = db.prepare<[number], ChoiceRow>(
    'SELECT * FROM spool_choice WHERE spool_id = ? ORDER BY id DESC LIMIT 1',
  );
  const insertChoice = db.prepare(
    `INSERT INTO spool_choice (spool_id, printer_id, objective, shortest_mm, doubtful, unknown, at_ms, who)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?)`,
  );
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
      const { action, countedMm, landmarkCountedMm, reachedEnd, atMs, who, place } = cut;
      const { lastInsertRowid } = insertCut.run(
        spoolId,
        null,
        action,
        countedMm,
        landmarkCountedMm,
        reachedEnd ? 1 : 0,
        atMs,
        who,
        place?.fromGaugeMm ?? null,
        place?.toGaugeMm ?? null,
        place?.knownToGaugeMm ?? null,
        place?.knownAfterGaugeMm ?? null,
        place?.lengthFactor ?? null,
      );
      return { ...cut, id: Number(lastInsertRowid) };
    },
    takeBackLastCut: db.transaction((spoolId: number, atMs: number, who: string): KeptCut | null => {
      const last = cuts(spoolId).at(-1);
      if (last === undefined) return null;
      insertCut.run(spoolId, last.id, last.action, last.countedMm, last.landmarkCountedMm, 0, atMs, who, ...NO_PLACE);
      return last;
    }),
    coilNames: (spoolId: number): CoilName[] => names.all(spoolId).map(nameOf),
    nameCoil(spoolId: number, coilName: Omit<CoilName, 'id'>, atMs: number, who: string): void {
      const { coil, name, place } = coilName;
      insertName.run(spoolId, coil, name, place?.fromGaugeMm ?? null, place?.toGaugeMm ?? null, atMs, who);
    },
    placeCoilName(id: number, { fromGaugeMm, toGaugeMm }: NonNullable<CoilName['place']>): void {
      placeName.run(fromGaugeMm, toGaugeMm, id);
    },
    choices(spoolId: number): SpoolChoices | null {
      const row = lastChoice.get(spoolId);
      return row === undefined ? null : choicesOf(row);
    },
    choose(spoolId: number, choices: SpoolChoices, atMs: number, who: string): void {
      const { printerId, objective, shortestMm, doubtful, unknown } = choices;
      insertChoice.run(spoolId, printerId, objective, shortestMm, doubtful, unknown, atMs, who);
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
    place: placeOf(row),
  };
}

const NO_PLACE = [null, null, null, null, null] as const;

function placeOf(row: CutRow): KeptCut['place'] {
  const { from_gauge_mm, to_gauge_mm, known_to_gauge_mm, known_after_gauge_mm, length_factor } = row;
  if (from_gauge_mm === null || to_gauge_mm === null || known_to_gauge_mm === null) return null;
  if (known_after_gauge_mm === null || length_factor === null) return null;
  return {
    fromGaugeMm: from_gauge_mm,
    toGaugeMm: to_gauge_mm,
    knownToGaugeMm: known_to_gauge_mm,
    knownAfterGaugeMm: known_after_gauge_mm,
    lengthFactor: length_factor,
  };
}

function nameOf({ id, coil, name, from_gauge_mm: fromGaugeMm, to_gauge_mm: toGaugeMm }: NameRow): CoilName {
  return { id, coil, name, place: fromGaugeMm === null || toGaugeMm === null ? null : { fromGaugeMm, toGaugeMm } };
}

function choicesOf(row: ChoiceRow): SpoolChoices {
  return {
    printerId: row.printer_id,
    objective: row.objective === 'fewestCuts' ? 'fewestCuts' : 'mostLength',
    shortestMm: row.shortest_mm,
    doubtful: row.doubtful === 'keep' ? 'keep' : 'cut',
    unknown: row.unknown === 'keep' ? 'keep' : 'cut',
  };
}
