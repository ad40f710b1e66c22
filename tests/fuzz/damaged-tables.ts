import Sqlite from 'better-sqlite3';
import type { Chooser } from './chooser.ts';

/** A column of a table that has rows. */
export interface Cell {
  readonly table: string;
  readonly column: string;
}

export function cellsOf(file: string): readonly Cell[] {
  const db = new Sqlite(file, { readonly: true });
  const tables = db.prepare<[], string>(
    `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'`,
  );
  const cells = tables
    .pluck()
    .all()
    .filter((table) => db.prepare(`SELECT 1 FROM "${table}" LIMIT 1`).get() !== undefined)
    .flatMap((table) =>
      (db.pragma(`table_info("${table}")`) as { name: string }[]).map(({ name: column }) => ({ table, column })),
    );
  db.close();
  return cells;
}

const VALUES = [
  ...[
    'NULL',
    '0',
    '-1',
    '1',
    '2',
    '1e9',
    '-1e9',
    '9e15',
    '9e999',
    '-9e999',
    '1e308',
    '0.5',
    "''",
    "'x'",
    "'{}'",
    "'[]'",
  ],
  ...["'null'", "x''", "x'00ff'", "'1'", 'zeroblob(100)', "printf('%.70000c', 'x')", "'<script>'", 'char(0, 8238)'],
];

/** Changes one column, or deletes; of all rows or of one. */
export function damagingStatement(choose: Chooser, cells: readonly Cell[]): string {
  return choose.below(3) === 0 ? deletion(choose, cells) : changingStatement(choose, cells);
}

function deletion(choose: Chooser, cells: readonly Cell[]): string {
  const { table } = choose.oneOf(cells);
  return `DELETE FROM "${table}"${placeIn(table, choose)}`;
}

/** Changes one column, of all rows or of one. */
export function changingStatement(choose: Chooser, cells: readonly Cell[]): string {
  const { table, column } = choose.oneOf(cells);
  const place = placeIn(table, choose);
  const number = `"${column}" ${choose.oneOf(['+ 1', '- 1', '* 2', '* -1', '+ 0.5', '/ 1000'])}`;
  const json = `json_set("${column}", '$.${choose.oneOf(['x', 'kind', 'fromMm', 'toMm', 'id', 'facts', 'type'])}', ${choose.oneOf(VALUES.slice(0, 12))})`;
  const blob = `CAST(substr("${column}", 1, ${choose.below(200)}) || x'ff00' || substr("${column}", ${choose.below(200)}) AS BLOB)`;
  const value = choose.chance(0.5) ? choose.oneOf(VALUES) : choose.oneOf([number, json, blob]);
  return `UPDATE "${table}" SET "${column}" = ${value}${place}`;
}

const placeIn = (table: string, choose: Chooser): string =>
  choose.chance(0.5) ? '' : ` WHERE rowid = (SELECT rowid FROM "${table}" LIMIT 1 OFFSET ${choose.below(4)})`;

/** Runs the statements on a database, whatever it forbids. */
export function damage(file: string, sql: readonly string[]): void {
  const db = new Sqlite(file);
  db.pragma('foreign_keys = OFF');
  db.pragma('ignore_check_constraints = ON');
  for (const statement of sql) {
    try {
      db.exec(statement);
    } catch (refused) {
      // A strict table does not take every value, and not every cell is JSON: the row stays as it is.
      if (!(refused instanceof Sqlite.SqliteError)) throw refused;
    }
  }
  db.close();
}
