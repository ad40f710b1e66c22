import type { Database } from 'better-sqlite3';
import type { LogEntry } from '../../monitor/ports/record.ts';
import { ABANDONED_MS } from './bin.ts';

interface LogRow {
  id: number;
  time_ms: number;
  run_id: number | null;
  who: string;
  what: string;
}

/** What users did, and what happened to the service itself. */
export function operatorLog(db: Database) {
  const insert = db.prepare('INSERT INTO operator_log (time_ms, run_id, who, what) VALUES (?, ?, ?, ?)');
  const newest = db.prepare<[number], LogRow>(`SELECT * FROM operator_log
     WHERE run_id IS NULL OR run_id NOT IN (SELECT id FROM run WHERE deleted_ms <= ${ABANDONED_MS})
     ORDER BY id DESC LIMIT ?`);
  const newestOfRun = db.prepare<[number | null, number], LogRow>(
    'SELECT * FROM operator_log WHERE run_id IS ? ORDER BY id DESC LIMIT ?',
  );
  return {
    add(entry: Omit<LogEntry, 'id'>): LogEntry {
      const timeMs = Math.round(entry.timeMs);
      const { lastInsertRowid } = insert.run(timeMs, entry.runId, entry.who, entry.what);
      return { ...entry, timeMs, id: Number(lastInsertRowid) };
    },
    /** @param runId undefined = all entries; null = entries that belong to no run */
    newest(runId: number | null | undefined, limit: number): LogEntry[] {
      const rows = runId === undefined ? newest.all(limit) : newestOfRun.all(runId, limit);
      return rows.map((row) => ({
        id: row.id,
        timeMs: row.time_ms,
        runId: row.run_id,
        who: row.who,
        what: row.what,
      }));
    },
  };
}
