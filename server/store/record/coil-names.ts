import type { Database } from 'better-sqlite3';
import type { CoilName } from '../../entities/spool.ts';

interface NameRow {
  id: number;
  coil: number;
  name: string;
  from_gauge_mm: number | null;
  to_gauge_mm: number | null;
}

/** Names that users gave to coils. */
export function coilNameTable(db: Database) {
  const names = db.prepare<[number], NameRow>('SELECT * FROM coil_name WHERE spool_id = ? ORDER BY id');
  const insertName = db.prepare(
    'INSERT INTO coil_name (spool_id, coil, name, from_gauge_mm, to_gauge_mm, at_ms, who) VALUES (?, ?, ?, ?, ?, ?, ?)',
  );
  const placeName = db.prepare('UPDATE coil_name SET from_gauge_mm = ?, to_gauge_mm = ? WHERE id = ?');
  return {
    all: (spoolId: number): CoilName[] => names.all(spoolId).map(nameOf),
    add(spoolId: number, coilName: Omit<CoilName, 'id'>, atMs: number, who: string): void {
      const { coil, name, place } = coilName;
      insertName.run(spoolId, coil, name, place?.fromGaugeMm ?? null, place?.toGaugeMm ?? null, atMs, who);
    },
    place(id: number, { fromGaugeMm, toGaugeMm }: NonNullable<CoilName['place']>): void {
      placeName.run(fromGaugeMm, toGaugeMm, id);
    },
  };
}

function nameOf({ id, coil, name, from_gauge_mm: fromGaugeMm, to_gauge_mm: toGaugeMm }: NameRow): CoilName {
  return { id, coil, name, place: fromGaugeMm === null || toGaugeMm === null ? null : { fromGaugeMm, toGaugeMm } };
}
