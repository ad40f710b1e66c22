import type { Database } from 'better-sqlite3';

/** The settings of the line: each save adds a row, and the last row is in force. */
export function settingsTable(db: Database) {
  const insert = db.prepare('INSERT INTO line_settings (saved_ms, payload) VALUES (?, ?)');
  const last = db.prepare<[], string>('SELECT payload FROM line_settings ORDER BY version DESC LIMIT 1').pluck();
  return {
    load(): unknown {
      const text = last.get();
      return text === undefined ? null : JSON.parse(text);
    },
    save(settings: object): void {
      insert.run(Date.now(), JSON.stringify(settings));
    },
  };
}
