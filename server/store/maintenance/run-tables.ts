import type { Database } from 'better-sqlite3';

/** A table whose rows belong to a run, found by its foreign keys: a table that is added later comes along by itself. */
export interface RunTable {
  readonly name: string;
  readonly columns: readonly string[];
  /** The table has a number of its own for each row, which others may name. */
  readonly hasId: boolean;
  /** Columns that name a row of another table. */
  readonly references: ReadonlyMap<string, string>;
}

interface ForeignKey {
  readonly table: string;
  readonly from: string;
}

/** Those that name a run, then those that name something of a run, such as a spool; each after what it names. */
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
      const primary = columns.filter(({ pk }) => pk > 0);
      found.set(name, {
        name,
        columns: columns.map((column) => column.name),
        hasId: primary.length === 1 && primary[0]!.name === 'id',
        references: new Map(keys.map(({ from, table }) => [from, table])),
      });
    }
  }
  return [...found.values()];
}
