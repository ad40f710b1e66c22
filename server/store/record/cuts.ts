import type { Database } from 'better-sqlite3';
import type { KeptCut } from '../../entities/spool.ts';
import { checkStored } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

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
  length_factor: number | null;
}

/** Cuts of a wound spool. Append only: taking a cut back adds a row. */
export function cutTable(db: Database, unreadable: UnreadableRows) {
  const counting = db.prepare<[number, number], CutRow>(
    `SELECT * FROM cut WHERE spool_id = ? AND takes_back IS NULL
     AND id NOT IN (SELECT takes_back FROM cut WHERE spool_id = ? AND takes_back IS NOT NULL) ORDER BY id`,
  );
  const insertCut = db.prepare(
    `INSERT INTO cut (spool_id, takes_back, action, counted_mm, landmark_counted_mm, reached_end, at_ms, who,
       from_gauge_mm, to_gauge_mm, known_to_gauge_mm, length_factor)
     VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  );

  const all = (spoolId: number): KeptCut[] => unreadable.all(counting.all(spoolId, spoolId), placeOfRow, cutOf);
  const add = (spoolId: number, cut: Omit<KeptCut, 'id'>): KeptCut => {
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
      place?.lengthFactor ?? null,
    );
    return { ...cut, id: Number(lastInsertRowid) };
  };
  const takeBackLast = db.transaction((spoolId: number, atMs: number, who: string): KeptCut | null => {
    const last = all(spoolId).at(-1);
    if (last === undefined) return null;
    insertCut.run(spoolId, last.id, last.action, last.countedMm, last.landmarkCountedMm, 0, atMs, who, ...NO_PLACE);
    return last;
  });
  return {
    all,
    takeBackLast,
    /** Adds cuts, which may stand for the last one: all of this is stored, or nothing. */
    add: db.transaction(
      (spoolId: number, added: readonly Omit<KeptCut, 'id'>[], insteadOfLast: boolean): readonly KeptCut[] => {
        const [first] = added;
        if (insteadOfLast && first !== undefined) takeBackLast(spoolId, first.atMs, first.who);
        return added.map((cut) => add(spoolId, cut));
      },
    ),
  };
}

const placeOfRow = ({ id }: CutRow) => ({ table: 'cut', row: id, runId: null });

/** @throws Error if the row is damaged */
function cutOf(row: CutRow): KeptCut {
  checkStored('cut', row);
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

const NO_PLACE = [null, null, null, null] as const;

function placeOf(row: CutRow): KeptCut['place'] {
  const { from_gauge_mm, to_gauge_mm, known_to_gauge_mm, length_factor } = row;
  if (from_gauge_mm === null || to_gauge_mm === null || known_to_gauge_mm === null || length_factor === null)
    return null;
  return {
    fromGaugeMm: from_gauge_mm,
    toGaugeMm: to_gauge_mm,
    knownToGaugeMm: known_to_gauge_mm,
    lengthFactor: length_factor,
  };
}
