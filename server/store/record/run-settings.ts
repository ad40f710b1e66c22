import type { Database } from 'better-sqlite3';
import type { RunSettings } from '../../entities/run.ts';
import { requireUnits, runSettingsOf } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

/** The settings of the line during a run. Append only. */
export function runSettingsTable(db: Database, unreadable: UnreadableRows) {
  const insert = db.prepare('INSERT INTO run_set (run_id, from_gauge_mm, payload) VALUES (?, ?, ?)');
  const ofRun = db.prepare<[number], { id: number; from_gauge_mm: number; payload: string }>(
    'SELECT id, from_gauge_mm, payload FROM run_set WHERE run_id = ? ORDER BY id',
  );
  return {
    ofRun: (runId: number): RunSettings[] =>
      unreadable.all(
        ofRun.all(runId),
        ({ id }) => ({ table: 'run_set', row: id, runId }),
        (row) => {
          requireUnits(row);
          return { ...runSettingsOf(row.payload), fromGaugeMm: row.from_gauge_mm };
        },
      ),
    add(runId: number, { fromGaugeMm, ...rest }: RunSettings): void {
      insert.run(runId, fromGaugeMm, JSON.stringify(rest));
    },
  };
}
