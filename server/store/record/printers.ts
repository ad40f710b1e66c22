import type { Database } from 'better-sqlite3';
import type { Printer } from '../../entities/printer.ts';
import { Problem } from '../../problem/problem.ts';
import { requireUnits } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface PrinterRow {
  id: number;
  name: string;
  hotend_limit_mm: number;
  smallest_feedable_mm: number;
  tolerance_mm: number;
  note: string;
}

/** The printers that strand is judged for. */
export function printerTable(db: Database, unreadable: UnreadableRows) {
  const all = db.prepare<[], PrinterRow>('SELECT * FROM printer WHERE removed = 0 ORDER BY name COLLATE NOCASE, id');
  const one = db.prepare<[number], PrinterRow>('SELECT * FROM printer WHERE id = ? AND removed = 0');
  const insert = db.prepare(
    `INSERT INTO printer (name, hotend_limit_mm, smallest_feedable_mm, tolerance_mm, note, changed_ms)
     VALUES (?, ?, ?, ?, ?, ?)`,
  );
  const update = db.prepare(
    `UPDATE printer SET name = ?, hotend_limit_mm = ?, smallest_feedable_mm = ?, tolerance_mm = ?, note = ?, changed_ms = ?
     WHERE id = ? AND removed = 0`,
  );
  const remove = db.prepare('UPDATE printer SET removed = 1, changed_ms = ? WHERE id = ? AND removed = 0');

  const find = (id: number): Printer | null => {
    const row = one.get(id);
    return row ? unreadable.read(placeOf(row), () => printerOf(row)) : null;
  };
  const must = (changes: number, id: number): void => {
    if (changes === 0) throw unknownPrinter(id);
  };
  return {
    all: (): Printer[] => unreadable.all(all.all(), placeOf, printerOf),
    find,
    add(p: Omit<Printer, 'id'>, atMs: number): Printer {
      const { lastInsertRowid } = insert.run(...fieldsOf(p), Math.round(atMs));
      return { ...p, id: Number(lastInsertRowid) };
    },
    change: (p: Printer, atMs: number): void => must(update.run(...fieldsOf(p), Math.round(atMs), p.id).changes, p.id),
    remove: (id: number, atMs: number): void => must(remove.run(Math.round(atMs), id).changes, id),
  };
}

function fieldsOf(p: Omit<Printer, 'id'>) {
  return [p.name, p.hotendLimitMm, p.smallestFeedableMm, p.toleranceMm, p.note] as const;
}

const placeOf = ({ id }: PrinterRow) => ({ table: 'printer', row: id, runId: null });

/** @throws Error if the row is damaged */
function printerOf(row: PrinterRow): Printer {
  requireUnits(row);
  return {
    id: row.id,
    name: row.name,
    hotendLimitMm: row.hotend_limit_mm,
    smallestFeedableMm: row.smallest_feedable_mm,
    toleranceMm: row.tolerance_mm,
    note: row.note,
  };
}

function unknownPrinter(id: number): Problem {
  return new Problem(
    'unknown-printer',
    `There is no printer ${id}.`,
    'Reload the list of printers and choose one there.',
  );
}
