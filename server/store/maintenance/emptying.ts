import type { Database } from 'better-sqlite3';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';
import { type RunTable, runTables } from './run-tables.ts';

/** Rows of readings that one step deletes: a few hundred kilobytes, so that nothing else is delayed. */
const ROWS_A_STEP = 32;

/** Removes what has been in the bin for long enough: of a run its readings first, in small steps, then everything else. */
export function emptying(db: Database) {
  const dueRun = db
    .prepare<[number], number>('SELECT id FROM run WHERE deleted_ms < ? ORDER BY deleted_ms LIMIT 1')
    .pluck();
  const dueSpool = db
    .prepare<[number], number>('SELECT id FROM spool WHERE deleted_ms < ? ORDER BY deleted_ms LIMIT 1')
    .pluck();
  const readings = SAMPLE_TABLES.map(({ name, firstId }) => ({
    firstId,
    drop: db.prepare(
      `DELETE FROM ${name} WHERE id IN (SELECT id FROM ${name} WHERE id >= ? AND id < ? ORDER BY id LIMIT ${ROWS_A_STEP})`,
    ),
  }));
  const tables = runTables(db);
  const ofRun = deletionsFrom(tables, 'run');
  const ofSpool = deletionsFrom(tables, 'spool');
  const removeWith = (deletions: readonly string[], table: string) =>
    db.transaction((id: number): void => {
      for (const sql of deletions) db.prepare(sql).run(id);
      db.prepare(`DELETE FROM ${table} WHERE id = ?`).run(id);
    });
  const removeRun = removeWith(ofRun, 'run');
  const removeSpool = removeWith(ofSpool, 'spool');

  /** @returns whether there is more to remove */
  return (deletedBeforeMs: number): boolean => {
    const runId = dueRun.get(deletedBeforeMs);
    if (runId !== undefined) {
      const dropped = readings.some(({ drop, firstId }) => drop.run(firstId(runId), firstId(runId + 1)).changes > 0);
      if (!dropped) removeRun.immediate(runId);
      return true;
    }
    const spoolId = dueSpool.get(deletedBeforeMs);
    if (spoolId === undefined) return false;
    removeSpool.immediate(spoolId);
    return true;
  };
}

/** Statements that delete what belongs to a row of `root`, children before their owners. */
function deletionsFrom(tables: readonly RunTable[], root: string): string[] {
  const condition = new Map<string, string>([[root, '']]);
  for (const { name, references } of tables) {
    const found = [...references].find(([, owner]) => owner !== name && condition.has(owner));
    if (found === undefined || name === root) continue;
    const [column, owner] = found;
    const ofOwner = condition.get(owner);
    condition.set(name, ofOwner ? `${column} IN (SELECT id FROM ${owner} WHERE ${ofOwner})` : `${column} = ?`);
  }
  condition.delete(root);
  return [...condition].reverse().map(([name, where]) => `DELETE FROM ${name} WHERE ${where}`);
}
