import type { Database } from 'better-sqlite3';
import type { StrandUse } from '../../entities/strand-use.ts';
import { type StrandUseRow, strandUseOf } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface UseRow extends StrandUseRow {
  readonly id: number;
  readonly spool_id: number;
  readonly run_id: number;
}

/** What users took from coils and spools. Append only: taking an entry back adds a row. */
export function strandUseTable(db: Database, unreadable: UnreadableRows) {
  const counting = `SELECT strand_use.*, spool.run_id FROM strand_use JOIN spool ON spool.id = spool_id
    WHERE takes_back IS NULL AND NOT EXISTS (SELECT 1 FROM strand_use AS undo WHERE undo.takes_back = strand_use.id)`;
  const ofSpool = db.prepare<[number], UseRow>(`${counting} AND spool_id = ? ORDER BY strand_use.id`);
  const insert = db.prepare(
    `INSERT INTO strand_use (spool_id, kind, from_gauge_mm, to_gauge_mm, feeds, used_amount, used_unit, print_amount,
       print_unit, printer, called, at_ms, who) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
  );
  const undo = db.prepare(
    `INSERT INTO strand_use (spool_id, takes_back, kind, from_gauge_mm, to_gauge_mm, feeds, at_ms, who)
     SELECT spool_id, id, kind, from_gauge_mm, to_gauge_mm, feeds, ?, ? FROM strand_use
     WHERE id = ? AND spool_id = ? AND takes_back IS NULL
       AND NOT EXISTS (SELECT 1 FROM strand_use AS undo WHERE undo.takes_back = strand_use.id)`,
  );
  const takenBack = db.prepare<[number, number], { who: string }>(
    'SELECT who FROM strand_use WHERE takes_back = ? AND spool_id = ?',
  );
  return {
    /** Those that count, in the order in which they were stated. */
    all: (spoolId: number): StrandUse[] =>
      unreadable.all(
        ofSpool.all(spoolId),
        ({ id, run_id: runId }) => ({ table: 'strand_use', row: id, runId }),
        (row) => strandUseOf(row, row.id),
      ),
    add(spoolId: number, use: Omit<StrandUse, 'id'>): StrandUse {
      const { kind, place, feeds, used, print, printer, called, atMs, who } = use;
      const { lastInsertRowid } = insert.run(
        spoolId,
        kind,
        place.fromGaugeMm,
        place.toGaugeMm,
        feeds,
        used === null || used.unit === 'all' ? null : used.amount,
        used?.unit ?? null,
        print?.amount ?? null,
        print?.unit ?? null,
        printer,
        called,
        atMs,
        who,
      );
      return { ...use, id: Number(lastInsertRowid) };
    },
    /** @returns false = there is no such entry, or it was taken back before */
    takeBack: (spoolId: number, id: number, atMs: number, who: string): boolean =>
      undo.run(atMs, who, id, spoolId).changes > 0,
    /** Who took an entry back; null = no one. */
    takenBackBy: (spoolId: number, id: number): string | null => takenBack.get(id, spoolId)?.who ?? null,
  };
}
