import type { Database } from 'better-sqlite3';
import type { CoilName } from '../../entities/spool.ts';
import { requireUnits } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface NameRow {
  id: number;
  coil: number;
  name: string;
  from_gauge_mm: number | null;
  to_gauge_mm: number | null;
}

/** Names that users gave to coils. */
export function coilNameTable(db: Database, unreadable: UnreadableRows) {
  const names = db.prepare<[number], NameRow>('SELECT * FROM coil_name WHERE spool_id = ? ORDER BY id');
  const insertName = db.prepare(
    'INSERT INTO coil_name (spool_id, coil, name, from_gauge_mm, to_gauge_mm, at_ms, who) VALUES (?, ?, ?, ?, ?, ?, ?)',
  );
  const placeName = db.prepare('UPDATE coil_name SET from_gauge_mm = ?, to_gauge_mm = ? WHERE id = ?');
  return {
    all: (spoolId: number): CoilName[] => unreadable.all(names.all(spoolId), placeOfRow, nameOf),
    add(spoolId: number, coilName: Omit<CoilName, 'id'>, atMs: number, who: string): void {
      const { coil, name, place } = coilName;
      insertName.run(spoolId, coil, name, place?.fromGaugeMm ?? null, place?.toGaugeMm ?? null, atMs, who);
    },
    place(id: number, { fromGaugeMm, toGaugeMm }: NonNullable<CoilName['place']>): void {
      placeName.run(fromGaugeMm, toGaugeMm, id);
    },
  };
}

const placeOfRow = ({ id }: NameRow) => ({ table: 'coil_name', row: id, runId: null });

/** @throws Error if the row is damaged */
function nameOf(row: NameRow): CoilName {
  requireUnits(row);
  const { id, coil, name, from_gauge_mm: fromGaugeMm, to_gauge_mm: toGaugeMm } = row;
  return { id, coil, name, place: fromGaugeMm === null || toGaugeMm === null ? null : { fromGaugeMm, toGaugeMm } };
}
