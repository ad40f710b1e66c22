import type { Database } from 'better-sqlite3';
import type { RunSettings } from '../../entities/run.ts';

/** The settings of the line during a run. Append only. */
export function runSettingsTable(db: Database) {
  const insert = db.prepare('INSERT INTO run_set (run_id, from_gauge_mm, payload) VALUES (?, ?, ?)');
  const ofRun = db.prepare<[number], { from_gauge_mm: number; payload: string }>(
    'SELECT from_gauge_mm, payload FROM run_set WHERE run_id = ? ORDER BY id',
  );
  return {
    ofRun: (runId: number): RunSettings[] =>
      ofRun.all(runId).map((row) => ({
        ...(JSON.parse(row.payload) as Omit<RunSettings, 'fromGaugeMm'>),
        fromGaugeMm: row.from_gauge_mm,
      })),
    add(runId: number, { fromGaugeMm, ...rest }: RunSettings): void {
      insert.run(runId, fromGaugeMm, JSON.stringify(rest));
    },
  };
}
