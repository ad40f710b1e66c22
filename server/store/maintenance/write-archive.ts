import Sqlite from 'better-sqlite3';
import { migrate } from '../migrations/migrate.ts';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';
import { runTables } from './run-tables.ts';

/** 'StrA': a database with one run, for another installation (`PRAGMA application_id`). */
export const ARCHIVE_ID = 0x53747241;

/** Writes everything about an ended run into a new file: readings, summaries, spools, sections, statements, alarms, log. */
export function writeArchive(path: string, runId: number, target: string): void {
  const db = new Sqlite(target);
  try {
    db.pragma('journal_mode = DELETE');
    migrate(db);
    db.pragma('foreign_keys = OFF');
    db.prepare('ATTACH ? AS source').run(path);
    db.transaction(() => {
      db.prepare('INSERT INTO main.run SELECT * FROM source.run WHERE id = ?').run(runId);
      // The run takes its name along. The code that this new database made for itself means nothing.
      db.exec(
        'UPDATE main.run SET house = coalesce(house, (SELECT code FROM source.house)), house_run = coalesce(house_run, id)',
      );
      db.exec('DELETE FROM main.house');
      const owned = new Set(['run']);
      for (const { name, references } of runTables(db)) {
        const reference = [...references].find(([, table]) => owned.has(table));
        if (reference === undefined) throw new TypeError(`Table ${name} refers to no table of the run.`);
        const [column, owner] = reference;
        owned.add(name);
        const whose = owner === 'run' ? '= ?' : `IN (SELECT id FROM main.${owner}) AND ? IS NOT NULL`;
        // Deleted spools stay behind, and so does what is stated about them.
        const kept = name === 'spool' ? ' AND deleted_ms IS NULL' : '';
        db.prepare(`INSERT INTO main.${name} SELECT * FROM source.${name} WHERE ${column} ${whose}${kept}`).run(runId);
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
