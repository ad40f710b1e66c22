import Sqlite, { type Database } from 'better-sqlite3';
import { messageOf } from '../../problem/problem.ts';
import { migrate } from '../migrations/migrate.ts';
import { checkStored, isTime, LENGTH_MM_MAX, TEXT_MAX } from '../record/stored-shapes.ts';
import { checkArchivedSamples, RUN_ID_MAX } from './check-archived-samples.ts';
import { runTables } from './run-tables.ts';

/** Rows of one table: far more than a run of several days has, and copied in a fraction of a second. */
const ROWS_MAX = 50_000;
/** Ids are carried over as they differ from each other, so large ones would use up the numbers of this record. */
const ID_MAX = 1e9;
/** The JSON of an examination holds whole distributions. */
const EXAMINATION_MAX = 4 * 2 ** 20;

type Row = Readonly<Record<string, unknown>>;
interface Column {
  readonly name: string;
  readonly type: string;
  readonly notnull: number;
  readonly pk: number;
}

/**
 * Checks every row of an archive before anything of it is imported: the file may come from anywhere. Types, sizes and
 * bounds follow from our own layout, whose columns name their units; payloads follow the shapes they are read by.
 * @returns the first fault, with its table and row; null = none
 */
export function faultOfArchive(archive: Database, runId: number): string | null {
  if (!(runId >= 1 && runId <= RUN_ID_MAX)) return `table run, row ${runId}: its id is out of bounds`;
  const layout = new Sqlite(':memory:');
  try {
    migrate(layout);
    for (const name of ['run', ...runTables(layout).map((table) => table.name)]) {
      const fault = faultOfTable(archive, name, layout.pragma(`table_info('${name}')`) as Column[]);
      if (fault !== null) return fault;
    }
    return checkArchivedSamples(archive, runId);
  } finally {
    layout.close();
  }
}

function faultOfTable(archive: Database, table: string, columns: readonly Column[]): string | null {
  const names = columns.map(({ name }) => `"${name}"`).join();
  const rows = Number(archive.prepare(`SELECT count(*) FROM ${table}`).pluck().get());
  if (rows > ROWS_MAX) return `table ${table} has ${rows} rows, more than ${ROWS_MAX}`;
  const key = columns.filter(({ pk }) => pk > 0).map(({ name }) => name);
  const placeOf = (row: Row) => `table ${table}, row ${key.map((name) => String(row[name]).slice(0, 20)).join('/')}`;
  // Sizes come first and from the headers of the rows, so that a huge text is never read into memory.
  const max = table === 'examination' ? EXAMINATION_MAX : TEXT_MAX;
  for (const { name } of columns) {
    const tooLong = archive
      .prepare(`SELECT ${key.join()} FROM ${table} WHERE octet_length("${name}") > ${max} LIMIT 1`)
      .get() as Row | undefined;
    if (tooLong !== undefined) return `${placeOf(tooLong)}: ${name} is longer than ${max} bytes`;
  }
  for (const row of archive.prepare(`SELECT ${names} FROM ${table}`).iterate() as Iterable<Row>) {
    try {
      for (const column of columns) checkValue(column, row[column.name]);
      checkStored(table, row);
    } catch (thrown) {
      return `${placeOf(row)}: ${messageOf(thrown)}`;
    }
  }
  return null;
}

/** @throws Error that names the column */
function checkValue({ name, type, notnull }: Column, value: unknown): void {
  if (value === null) {
    if (notnull === 1) throw new Error(`${name} is missing`);
    return;
  }
  if (type === 'TEXT') {
    if (typeof value !== 'string') throw new Error(`${name} is no text`);
    return;
  }
  if (typeof value !== 'number' || !Number.isFinite(value)) throw new Error(`${name} is no finite number`);
  if (type === 'INTEGER' && !Number.isSafeInteger(value)) throw new Error(`${name} is no whole number`);
  if (name.endsWith('_ms') && !isTime(value)) throw new Error(`${name} is no time`);
  if (name.endsWith('_mm') && Math.abs(value) > LENGTH_MM_MAX) throw new Error(`${name} is no length of strand`);
  if (name === 'id' && Math.abs(value) > ID_MAX) throw new Error('its id is out of bounds');
}
