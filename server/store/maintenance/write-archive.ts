import Sqlite from 'better-sqlite3';
import { migrate } from '../migrations/migrate.ts';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';
import { runTables } from './run-tables.ts';

/** 'StrA': a database that holds one run and is meant to travel (`PRAGMA application_id`). */
export const ARCHIVE_ID = 0x53747241;

/** Write all that is known of an ended run into a new file: readings, summaries, spools, sections, words, alarms, log. */
export function writeArchive(path: string, runId: number, target: string): void {
  const db = new Sqlite(target);
  try {
    db.pragma('journal_mode = DELETE');
    migrate(db);
    db.pragma('foreign_keys = OFF');
    db.prepare('ATTACH ? AS source').run(path);
    db.transaction(() => {
      db.prepare('INSERT INTO main.run SELECT * FROM source.run WHERE id = ?').run(runId);
      const owned = new Set(['run']);
      for (const { name, references } of runTables(db)) {
        const [column, owner] = [...references].find(([, table]) => owned.has(table))!;
        owned.add(name);
        const whose = owner === 'run' ? '= ?' : `IN (SELECT id FROM main.${owner}) AND ? IS NOT NULL`;
        db.prepare(`INSERT INTO main.${name} SELECT * FROM source.${name} WHERE ${column} ${whose}`).run(runId);
      }
      for (const { name, firstId } of SAMPLE_TABLES) {
        db.prepare(`INSERT INTO main.${name} SELECT * FROM source.${name} WHERE id >= ? AND id < ?`).run(
          firstId(runId),
          firstId(runId + 1),
        );
      }
      db.pragma(`application_id = ${ARCHIVE_ID}`);
    })();
    db.exec('DETACH source');
  } finally {
    db.close();
  }
}
