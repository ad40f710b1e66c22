import type { Database } from 'better-sqlite3';

/** A table whose rows belong to a run. It is found by its foreign keys, so that new tables are included automatically. */
export interface RunTable {
  readonly name: string;
  readonly columns: readonly string[];
  /** Columns of the primary key. */
  readonly key: readonly string[];
  /** Its rows have an id that other tables may refer to. */
  readonly hasId: boolean;
  /** Columns that refer to a row of another table, and that table. */
  readonly references: ReadonlyMap<string, string>;
}

interface ForeignKey {
  readonly table: string;
  readonly from: string;
}

/** The tables that refer to a run, then those that refer to a part of a run, such as a spool. Each comes after its target. */
export function runTables(db: Database): RunTable[] {
  const names = db
    .prepare<[], string>(
      "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' ORDER BY rowid",
    )
    .pluck()
    .all();
  const found = new Map<string, RunTable>();
  for (let before = -1; before !== found.size; ) {
    before = found.size;
    for (const name of names) {
      if (found.has(name) || name === 'run') continue;
      const keys = db.pragma(`foreign_key_list('${name}')`) as ForeignKey[];
      if (!keys.some(({ table }) => table === 'run' || found.has(table))) continue;
      const columns = db.pragma(`table_info('${name}')`) as { name: string; pk: number }[];
      const key = columns.filter(({ pk }) => pk > 0).map((column) => column.name);
      found.set(name, {
        name,
        columns: columns.map((column) => column.name),
        key,
        hasId: key.join() === 'id',
        references: new Map(keys.map(({ from, table }) => [from, table])),
      });
    }
  }
  return [...found.values()];
}
