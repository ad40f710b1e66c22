import type { Database } from 'better-sqlite3';
import { Type } from 'typebox';
import { Compile } from 'typebox/compile';
import type { SavedSettings } from '../../settings/check-line-settings.ts';
import { requireShape } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

/** Each setting is checked where they are used. */
const shape = Compile(Type.Object({}, { minProperties: 1 }));

/** Stands for settings of which no version can be read. */
const UNREADABLE = '';

/** The settings of the line: each save adds a row, and the last one that can be read is in force. */
export function settingsTable(db: Database, unreadable: UnreadableRows) {
  const insert = db.prepare('INSERT INTO line_settings (saved_ms, payload) VALUES (?, ?)');
  const newestBefore = db.prepare<[number], { version: number; saved_ms: number; payload: string }>(
    'SELECT version, saved_ms, payload FROM line_settings WHERE version < ? ORDER BY version DESC LIMIT 1',
  );
  return {
    load(): SavedSettings {
      const newest = newestBefore.get(Number.MAX_SAFE_INTEGER);
      if (newest === undefined) return { settings: null, olderMs: null };
      for (let row: typeof newest | undefined = newest; row !== undefined; row = newestBefore.get(row.version)) {
        const { version, saved_ms: savedMs, payload } = row;
        const place = { table: 'line_settings', row: version, runId: null };
        const settings = unreadable.read(place, () => settingsOf(payload));
        if (settings !== null) return { settings, olderMs: row === newest ? null : savedMs };
      }
      // null would look like a new installation; this lets the reader report that the settings are lost.
      return { settings: UNREADABLE, olderMs: null };
    },
    save(settings: object): void {
      insert.run(Date.now(), JSON.stringify(settings));
    },
  };
}

/** @throws Error if the JSON is no object with settings */
function settingsOf(payload: string): object {
  const stored = JSON.parse(payload);
  requireShape(shape, stored);
  return stored;
}
