import type { Database } from 'better-sqlite3';
import type { NewSpool, Spool } from '../../entities/spool.ts';
import { Problem } from '../../problem/problem.ts';
import type { PrintAmount } from '../../strand/verdict/print-fit.ts';
import { requireUnits } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface SpoolRow {
  id: number;
  run_id: number;
  ordinal: number;
  start_gauge_mm: number;
  end_gauge_mm: number | null;
  started_ms: number;
  ended_ms: number | null;
  note: string;
  title: string;
  wanted_amount: number | null;
  wanted_unit: string | null;
}

/** A spool is deleted with its run. */
const NOT_DELETED = `SELECT * FROM spool WHERE deleted_ms IS NULL
  AND NOT EXISTS (SELECT 1 FROM run WHERE run.id = run_id AND run.deleted_ms IS NOT NULL)`;

/** Spools: what is wound between two spool changes of a run. */
export function spoolTable(db: Database, unreadable: UnreadableRows) {
  const insert = db.prepare('INSERT INTO spool (run_id, ordinal, start_gauge_mm, started_ms) VALUES (?, ?, ?, ?)');
  // Deleted and unreadable ones keep their numbers: they may be on labels.
  const lastOrdinal = db
    .prepare<[number], number>('SELECT coalesce(max(ordinal), 0) FROM spool WHERE run_id = ?')
    .pluck();
  const end = db.prepare('UPDATE spool SET end_gauge_mm = ?, ended_ms = ? WHERE id = ?');
  const moveStart = db.prepare('UPDATE spool SET start_gauge_mm = ?, started_ms = ? WHERE id = ?');
  const reopen = db.prepare('UPDATE spool SET end_gauge_mm = NULL, ended_ms = NULL, note = ? WHERE id = ?');
  // A cut, a name, strand that was used, a tape measurement or a weighing is about the spool as it is; the last statement counts.
  const untouched = db
    .prepare<{ id: number }, number>(`
      SELECT NOT EXISTS (SELECT 1 FROM cut WHERE spool_id = @id AND takes_back IS NULL
          AND NOT EXISTS (SELECT 1 FROM cut AS undo WHERE undo.takes_back = cut.id))
        AND NOT EXISTS (SELECT 1 FROM strand_use WHERE spool_id = @id AND takes_back IS NULL
          AND NOT EXISTS (SELECT 1 FROM strand_use AS undo WHERE undo.takes_back = strand_use.id))
        AND NOT EXISTS (SELECT 1 FROM coil_name WHERE spool_id = @id AND name <> ''
          AND NOT EXISTS (SELECT 1 FROM coil_name AS newer
            WHERE newer.spool_id = @id AND newer.coil = coil_name.coil AND newer.id > coil_name.id))
        AND (SELECT measured_mm FROM length_correction WHERE spool_id = @id ORDER BY id DESC LIMIT 1) IS NULL
        AND (SELECT gross_g FROM spool_weighing WHERE spool_id = @id ORDER BY id DESC LIMIT 1) IS NULL`)
    .pluck();
  const later = db.prepare<[number, number], SpoolRow>('SELECT * FROM spool WHERE run_id = ? AND ordinal > ?');
  const ofSpool = [
    'cut',
    'strand_use',
    'coil_name',
    'length_correction',
    'spool_weighing',
    'spool_choice',
    'examination',
  ].map((table) => db.prepare(`DELETE FROM ${table} WHERE spool_id = ?`));
  const remove = db.prepare('DELETE FROM spool WHERE id = ?');
  const note = db.prepare('UPDATE spool SET note = ? WHERE id = ?');
  const title = db.prepare('UPDATE spool SET title = ? WHERE id = ?');
  const want = db.prepare('UPDATE spool SET wanted_amount = ?, wanted_unit = ? WHERE id = ?');
  const one = db.prepare<[number], SpoolRow>(`${NOT_DELETED} AND id = ?`);
  const ofRun = db.prepare<[number], SpoolRow>(`${NOT_DELETED} AND run_id = ? ORDER BY ordinal`);
  const open = db.prepare<[number], SpoolRow>(
    'SELECT * FROM spool WHERE run_id = ? AND ended_ms IS NULL ORDER BY ordinal DESC LIMIT 1',
  );

  const find = (spoolId: number): Spool | null => {
    const row = one.get(spoolId);
    return row ? unreadable.read(placeOf(row), () => spoolOf(row)) : null;
  };
  const unknown = (spoolId: number) =>
    new Problem('unknown-spool', `There is no spool ${spoolId}.`, "See the run's list of spools.");
  const must = (changes: number, spoolId: number): void => {
    if (changes === 0) throw unknown(spoolId);
  };
  const existing = (spoolId: number): Spool => {
    const spool = find(spoolId);
    if (spool === null) throw unknown(spoolId);
    return spool;
  };
  return {
    find,
    ofRun: (runId: number): Spool[] => unreadable.all(ofRun.all(runId), placeOf, spoolOf),
    begin: db.transaction(({ runId, startGaugeMm, startedMs }: NewSpool): Spool => {
      const ordinal = (lastOrdinal.get(runId) ?? 0) + 1;
      const { lastInsertRowid } = insert.run(runId, ordinal, startGaugeMm, Math.round(startedMs));
      return existing(Number(lastInsertRowid));
    }),
    moveStart(spoolId: number, startGaugeMm: number, startedMs: number): Spool {
      must(moveStart.run(startGaugeMm, Math.round(startedMs), spoolId).changes, spoolId);
      return existing(spoolId);
    },
    end: (spoolId: number, endGaugeMm: number, endedMs: number): void =>
      must(end.run(endGaugeMm, Math.round(endedMs), spoolId).changes, spoolId),
    reopen: db.transaction((spoolId: number): Spool | null => {
      const spool = existing(spoolId);
      const [next, ...more] = later.all(spool.runId, spool.ordinal);
      const all = next === undefined ? [spoolId] : [spoolId, next.id];
      if (more.length > 0 || !all.every((id) => untouched.get({ id }) === 1)) return null;
      if (next !== undefined) {
        for (const statements of ofSpool) statements.run(next.id);
        remove.run(next.id);
      }
      const notes = [spool.note, next?.note ?? ''].filter((text) => text !== '');
      reopen.run(notes.join(' '), spoolId);
      return existing(spoolId);
    }),
    moveChange: db.transaction((beforeId: number, spoolId: number, atGaugeMm: number, atMs: number): Spool => {
      must(end.run(atGaugeMm, Math.round(atMs), beforeId).changes, beforeId);
      must(moveStart.run(atGaugeMm, Math.round(atMs), spoolId).changes, spoolId);
      return existing(spoolId);
    }),
    split: db.transaction((spoolId: number, atGaugeMm: number, atMs: number): Spool => {
      const { runId, ordinal, endGaugeMm, endedMs } = existing(spoolId);
      end.run(atGaugeMm, Math.round(atMs), spoolId);
      const { lastInsertRowid } = insert.run(runId, ordinal + 1, atGaugeMm, Math.round(atMs));
      const nextId = Number(lastInsertRowid);
      if (endGaugeMm !== null && endedMs !== null) end.run(endGaugeMm, endedMs, nextId);
      return existing(nextId);
    }),
    setNote: (spoolId: number, text: string): void => must(note.run(text, spoolId).changes, spoolId),
    setTitle: (spoolId: number, text: string): void => must(title.run(text, spoolId).changes, spoolId),
    want: (spoolId: number, wanted: PrintAmount | null): void =>
      must(want.run(wanted?.amount ?? null, wanted?.unit ?? null, spoolId).changes, spoolId),
    /** The spool that is being wound. */
    open(runId: number): Spool | null {
      const row = open.get(runId);
      return row ? unreadable.read(placeOf(row), () => spoolOf(row)) : null;
    },
  };
}

function placeOf({ id, run_id: runId }: SpoolRow) {
  return { table: 'spool', row: id, runId };
}

/** @throws Error if the row is damaged */
function spoolOf(row: SpoolRow): Spool {
  requireUnits(row);
  return {
    id: row.id,
    runId: row.run_id,
    ordinal: row.ordinal,
    startGaugeMm: row.start_gauge_mm,
    endGaugeMm: row.end_gauge_mm,
    startedMs: row.started_ms,
    endedMs: row.ended_ms,
    note: row.note,
    title: row.title,
    ...wantedOf(row),
  };
}

function wantedOf({ wanted_amount: amount, wanted_unit: unit }: SpoolRow): Pick<Spool, 'wanted'> {
  return amount === null || (unit !== 'metres' && unit !== 'grams') ? {} : { wanted: { amount, unit } };
}
