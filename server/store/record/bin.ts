import type { Database } from 'better-sqlite3';
import type { Binned, BinnedKind } from '../../entities/bin.ts';
import { daysSeen } from './days-seen.ts';
import { requireUnits } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

interface BinRow {
  kind: BinnedKind;
  id: number;
  run_id: number;
  ordinal: number | null;
  started_ms: number;
  time_zone: string;
  deleted_ms: number;
  deleted_by: string | null;
}

/** @throws Error if the row is damaged */
function binnedOf(row: BinRow): Binned {
  requireUnits(row);
  const { kind, id, run_id: runId, ordinal, started_ms: startedMs, time_zone: timeZone } = row;
  if (row.deleted_by === null) throw new Error('deleted_by is missing');
  return { kind, id, runId, ordinal, startedMs, timeZone, deletedMs: row.deleted_ms, deletedBy: row.deleted_by };
}

/** In place of the time of deletion: the run is being imported, and is in no list yet. */
export const IMPORTING_MS = 0;
/** The import failed or was killed: what it left is removed like what is deleted, but cannot be restored. */
export const ABANDONED_MS = 1;

/** Deleted runs and spools. Every other list leaves them out. */
export function binTable(db: Database, unreadable: UnreadableRows) {
  const all = db.prepare<[], BinRow>(`
    SELECT 'run' AS kind, id, id AS run_id, NULL AS ordinal, started_ms, time_zone, deleted_ms, deleted_by
      FROM run WHERE deleted_ms > ${ABANDONED_MS}
    UNION ALL
    SELECT 'spool', spool.id, run_id, ordinal, spool.started_ms, time_zone, spool.deleted_ms, spool.deleted_by
      FROM spool JOIN run ON run.id = run_id WHERE spool.deleted_ms IS NOT NULL AND run.deleted_ms IS NULL
    ORDER BY deleted_ms DESC, id DESC`);
  const seen = daysSeen(db);
  const changing = (sql: (table: BinnedKind) => string) => ({
    run: db.prepare(sql('run')),
    spool: db.prepare(sql('spool')),
  });
  const mark = changing(
    (table) =>
      `UPDATE ${table} SET deleted_ms = ?, deleted_by = ? WHERE id = ? AND ended_ms IS NOT NULL AND deleted_ms IS NULL`,
  );
  const redate = changing(
    (table) => `UPDATE ${table} SET deleted_ms = ? WHERE id = ? AND deleted_ms > ${ABANDONED_MS}`,
  );
  const unmark = changing(
    (table) => `UPDATE ${table} SET deleted_ms = NULL, deleted_by = NULL WHERE id = ? AND deleted_ms > ${ABANDONED_MS}`,
  );
  return {
    all: (): Binned[] =>
      unreadable.all(all.all(), ({ kind, id, run_id }) => ({ table: kind, row: id, runId: run_id }), binnedOf),
    /** @returns false = it is not there, or has not ended */
    add: db.transaction((kind: BinnedKind, id: number, atMs: number, who: string): boolean => {
      // If the clock is behind, the days that it has seen before do not count as later ones.
      seen.add(atMs);
      return mark[kind].run(Math.round(atMs), who, id).changes > 0;
    }),
    redate: (kind: BinnedKind, id: number, atMs: number): void => {
      redate[kind].run(Math.round(atMs), id);
    },
    /** @returns false = it is not in the bin */
    restore: (kind: BinnedKind, id: number): boolean => unmark[kind].run(id).changes > 0,
  };
}
