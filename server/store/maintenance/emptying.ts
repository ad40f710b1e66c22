import type { Database, Statement } from 'better-sqlite3';
import { IMPORTING_MS } from '../record/bin.ts';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';
import { type RunTable, runTables } from './run-tables.ts';

/** Blocks of readings that one step deletes: a few hundred kilobytes, so that nothing else is delayed. */
const BLOCKS_A_STEP = 32;
/** Other rows that one step deletes. */
const ROWS_A_STEP = 250;

/** Removes what has been in the bin for long enough, in small steps: of a run its readings first, then everything else. */
export function emptying(db: Database) {
  const dueOf = (table: string) =>
    db
      .prepare<[number], number>(
        `SELECT id FROM ${table} WHERE deleted_ms < ? AND deleted_ms > ${IMPORTING_MS} ORDER BY deleted_ms LIMIT 1`,
      )
      .pluck();
  const dueRun = dueOf('run');
  const dueSpool = dueOf('spool');
  const readings = SAMPLE_TABLES.map(({ name, firstId }) => ({
    firstId,
    drop: db.prepare(
      `DELETE FROM ${name} WHERE id IN (SELECT id FROM ${name} WHERE id >= ? AND id < ? ORDER BY id LIMIT ${BLOCKS_A_STEP})`,
    ),
  }));
  const tables = runTables(db);
  const [ofRun, ofSpool] = (['run', 'spool'] as const).map((root) =>
    [...deletionsFrom(tables, root), `DELETE FROM ${root} WHERE id = ?`].map((sql) => db.prepare<[number]>(sql)),
  ) as [Statement<[number]>[], Statement<[number]>[]];
  const removeSome = (deletions: readonly Statement<[number]>[], id: number) =>
    deletions.some((drop) => drop.run(id).changes > 0);

  /** @returns whether there is more to remove */
  return (deletedBeforeMs: number): boolean => {
    const runId = dueRun.get(deletedBeforeMs);
    if (runId !== undefined) {
      const dropped = readings.some(({ drop, firstId }) => drop.run(firstId(runId), firstId(runId + 1)).changes > 0);
      return dropped || removeSome(ofRun, runId);
    }
    const spoolId = dueSpool.get(deletedBeforeMs);
    return spoolId !== undefined && removeSome(ofSpool, spoolId);
  };
}

/** Statements that each delete some of what belongs to a row of `root`, children before their owners. */
function deletionsFrom(tables: readonly RunTable[], root: string): string[] {
  const condition = new Map<string, string>([[root, '']]);
  const keys = new Map<string, string>();
  for (const { name, key, references } of tables) {
    const found = [...references].find(([, owner]) => owner !== name && condition.has(owner));
    if (found === undefined || name === root) continue;
    const [column, owner] = found;
    const ofOwner = condition.get(owner);
    condition.set(name, ofOwner ? `${column} IN (SELECT id FROM ${owner} WHERE ${ofOwner})` : `${column} = ?`);
    keys.set(name, key.join());
  }
  condition.delete(root);
  // A later cut may take back an earlier one, so the last rows go first.
  return [...condition].reverse().map(([name, where]) => {
    const key = keys.get(name);
    const order = key?.split(',').map((column) => `${column} DESC`);
    return `DELETE FROM ${name} WHERE (${key}) IN (SELECT ${key} FROM ${name} WHERE ${where} ORDER BY ${order} LIMIT ${ROWS_A_STEP})`;
  });
}
