import type { Database } from 'better-sqlite3';
import type { UnreadableRows } from './unreadable-rows.ts';

/** Stands for settings that cannot be read. */
const UNREADABLE = '';

/** The settings of the line: each save adds a row, and the last row is in force. */
export function settingsTable(db: Database, unreadable: UnreadableRows) {
  const insert = db.prepare('INSERT INTO line_settings (saved_ms, payload) VALUES (?, ?)');
  const last = db.prepare<[], { version: number; payload: string }>(
    'SELECT version, payload FROM line_settings ORDER BY version DESC LIMIT 1',
  );
  return {
    load(): unknown {
      const row = last.get();
      if (row === undefined) return null;
      const place = { table: 'line_settings', row: row.version, runId: null };
      // null would look like a new installation; this lets the reader report that the settings are lost.
      return unreadable.read(place, () => JSON.parse(row.payload)) ?? UNREADABLE;
    },
    save(settings: object): void {
      insert.run(Date.now(), JSON.stringify(settings));
    },
  };
}
