import { crc32 } from 'node:zlib';
import type { Database } from 'better-sqlite3';
import type { CheckPlace } from '../monitor/ports/maintenance.ts';

/** Blobs of readings have checksums of their own; the rest is derived or belongs to SQLite. */
const NOT_GROUPED = new Set(['sample_block', 'sample_summary', 'sample_journal', 'row_group']);
/** Consecutive ids that share a checksum: few enough to compute it quickly, many enough to take little space. */
const IDS_BITS = 6;
/** More than any value that is stored, so that a changed record cannot fill the memory. */
const VALUE_BYTES_MAX = 16 * 2 ** 20;
/** At once, so that no reading is delayed. The others follow with the next checkpoint. */
const SEALED_AT_ONCE = 100;

interface GroupedTable {
  readonly name: string;
  /** The whole number that decides about the group; null = the whole table is one group. */
  readonly key: string | null;
  readonly columns: readonly string[];
}

interface Group {
  readonly of_table: string;
  readonly number: number;
  readonly checksum: number | null;
}

/**
 * Watches for changes made over this connection, which is the only writer, so that a change by anything else does not fit
 * the checksum. Temporary triggers keep them out of the layout and out of archives.
 */
export function watchRowChanges(db: Database): void {
  // Otherwise a row that REPLACE removes goes unnoticed.
  db.pragma('recursive_triggers = ON');
  db.transaction(() => {
    for (const table of groupedTables(db)) watchTable(db, table);
  })();
}

function watchTable(db: Database, table: GroupedTable): void {
  const { name } = table;
  const due = (row: string) =>
    `INSERT INTO row_group VALUES ('${name}', ${numberOf(table, row)}, NULL)
     ON CONFLICT (of_table, number) DO UPDATE SET checksum = NULL WHERE checksum IS NOT NULL;`;
  db.exec(
    `CREATE TEMP TRIGGER due_after_insert_${name} AFTER INSERT ON main.${name} BEGIN ${due('new')} END;
     CREATE TEMP TRIGGER due_after_update_${name} AFTER UPDATE ON main.${name} BEGIN ${due('old')} ${due('new')} END;
     CREATE TEMP TRIGGER due_after_delete_${name} AFTER DELETE ON main.${name} BEGIN ${due('old')} END;`,
  );
  // Rows from before there were checksums.
  if (db.prepare('SELECT 1 FROM row_group WHERE of_table = ?').get(name) !== undefined) return;
  db.exec(`INSERT INTO row_group SELECT DISTINCT '${name}', ${numberOf(table, 't')}, NULL FROM ${name} AS t`);
}

/** Computes checksums that are due. */
export function sealRowGroups(db: Database): void {
  const due = db.prepare(`SELECT * FROM row_group WHERE checksum IS NULL LIMIT ${SEALED_AT_ONCE}`).all() as Group[];
  if (due.length === 0) return;
  const seal = db.prepare('UPDATE row_group SET checksum = ? WHERE of_table = ? AND number = ?');
  const tables = new Map(groupedTables(db).map((table) => [table.name, table]));
  db.transaction(() => {
    for (const { of_table, number } of due) {
      const table = tables.get(of_table);
      if (table !== undefined) seal.run(checksumOf(db, table, number), of_table, number);
    }
  }).immediate();
}

/** What was read in one step. */
export interface ReadSome {
  readonly read: number;
  readonly faults: readonly string[];
  /** The last one that was read; null = none. */
  readonly last: CheckPlace['after'];
}

const hasGroups = (db: Database): boolean =>
  db.prepare("SELECT 1 FROM sqlite_schema WHERE name = 'row_group'").get() !== undefined;

/** How many groups there are; 0 = a database of a version without checksums. */
export function countRowGroups(db: Database): number {
  return hasGroups(db) ? Number(db.prepare('SELECT count(*) FROM row_group').pluck().get()) : 0;
}

/** Compares the next groups with their checksums. @param after the last group that was read; null = none */
export function readRowGroups(db: Database, after: CheckPlace['after'], limit: number): ReadSome {
  if (!hasGroups(db)) return { read: 0, faults: [], last: null };
  const tables = new Map(groupedTables(db).map((table) => [table.name, table]));
  const [table, number] = Array.isArray(after) ? after : ['', 0];
  // In one snapshot: while the service writes, a group and its checksum belong together.
  return db.transaction(() => {
    const groups = db
      .prepare('SELECT * FROM row_group WHERE (of_table, number) > (?, ?) ORDER BY of_table, number LIMIT ?')
      .all(table, number, limit) as Group[];
    const last = groups.at(-1);
    return {
      read: groups.length,
      faults: groups.flatMap((group) => faultOfGroup(db, tables.get(group.of_table), group)),
      last: last === undefined ? null : ([last.of_table, last.number] as const),
    };
  })();
}

function faultOfGroup(db: Database, table: GroupedTable | undefined, group: Group): string[] {
  const { of_table, number, checksum } = group;
  if (checksum === null || (table !== undefined && checksumOf(db, table, number) === checksum)) return [];
  const first = number << IDS_BITS;
  const rows = table?.key === null ? '' : `, rows ${first} to ${first + (1 << IDS_BITS) - 1}`;
  return [`table ${of_table}${rows}: something was changed that this service did not change`];
}

function checksumOf(db: Database, { name, key, columns }: GroupedTable, number: number): number {
  // Of what is longer than all that is stored, only the length, which is known without reading it.
  const bounded = (column: string) =>
    `quote(iif(octet_length("${column}") > ${VALUE_BYTES_MAX}, octet_length("${column}"), "${column}"))`;
  const text = columns.map(bounded).join(" || ',' || ");
  const where =
    key === null ? '' : `WHERE "${key}" >= ${number * 2 ** IDS_BITS} AND "${key}" < ${(number + 1) * 2 ** IDS_BITS}`;
  let checksum = 0;
  for (const row of db.prepare<[], string>(`SELECT ${text} FROM ${name} ${where} ORDER BY 1`).pluck().iterate())
    checksum = crc32(`${row}\n`, checksum);
  return checksum;
}

function numberOf({ key }: GroupedTable, row: string): string {
  return key === null ? '0' : `${row}."${key}" >> ${IDS_BITS}`;
}

function groupedTables(db: Database): GroupedTable[] {
  const names = db
    .prepare<[], string>("SELECT name FROM main.sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'")
    .pluck()
    .all();
  return names
    .filter((name) => !NOT_GROUPED.has(name))
    .map((name) => {
      const columns = db.pragma(`table_info('${name}')`) as { name: string; type: string; pk: number }[];
      const first = columns.find(({ pk }) => pk === 1);
      return {
        name,
        key: first?.type === 'INTEGER' ? first.name : null,
        columns: columns.map((column) => column.name),
      };
    });
}
