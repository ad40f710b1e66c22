import Sqlite, { type Database } from 'better-sqlite3';
import { messageOf } from '../../problem/problem.ts';
import { LAYOUT, layoutOf, migrate } from '../migrations/migrate.ts';
import { checkStored, TEXT_MAX } from '../record/stored-shapes.ts';
import { faultOfJournal, faultOfSamples, RUN_ID_MAX } from './check-sample-values.ts';
import { runTables } from './run-tables.ts';

interface Bounds {
  /** Rows of one table. */
  readonly rowsMax: number;
  /** New rows are numbered on from the highest id, so large ones would use up the numbers of a record. */
  readonly idMax: number;
}
/** Far more rows than a run of several days has. */
const OF_ARCHIVE: Bounds = { rowsMax: 50_000, idMax: 1e9 };
/** Far more than people enter about a run by hand. Each judgement of a spool compares them with each other. */
const BY_HAND_MAX = 2000;
/** Far more than a line makes whose strand anyone keeps: one every four seconds, all night. They are compared, too. */
const SECTIONS_MAX = 10_000;
const ROWS_OF_ARCHIVE_MAX: ReadonlyMap<string, number> = new Map([
  ...['spool', 'stated_section', 'cut', 'coil_name', 'strand_use'].map((name) => [name, BY_HAND_MAX] as const),
  ['measured_section', SECTIONS_MAX],
]);
const OF_RECORD: Bounds = { rowsMax: Number.POSITIVE_INFINITY, idMax: 1e15 };
/** The JSON of an examination holds whole distributions, that of the settings of the line and of messages whole lists. */
const LONG_TEXT_MAX = 4 * 2 ** 20;
/** Their blobs have checksums and checks of their own. */
const BLOBS_OF_SAMPLES = new Set(['sample_span', 'sample_block', 'sample_summary', 'sample_journal']);

export interface RecordFault {
  /** With its table and row. */
  readonly what: string;
  /** The run without which there would be no fault; null = it is not of one run. */
  readonly runId: number | null;
}

type Row = Readonly<Record<string, unknown>>;
interface Column {
  readonly name: string;
  readonly type: string;
  readonly notnull: number;
  readonly pk: number;
}

/**
 * Compares the schema of a file from anywhere with our own of the same layout. A trigger, a view, a computed column or a
 * check would run whenever the file is read or checked, and could take hours and all memory.
 * @returns what does not belong in it; null = nothing
 */
export function faultOfSchema(db: Database): string | null {
  return withLayout((layout) => {
    const ours = new Map(schemaOf(layout).map((entry) => [entry.name, textOf(entry)]));
    const strange = schemaOf(db).find((entry) => ours.get(entry.name) !== textOf(entry))?.name;
    if (strange === undefined) return null;
    return ours.has(strange) ? `its ${strange} was changed` : `it contains ${strange}, which does not belong in it`;
  }, layoutOf(db));
}

interface SchemaEntry {
  readonly type: string;
  readonly name: string;
  readonly sql: string;
}

function schemaOf(db: Database): SchemaEntry[] {
  const all = db.prepare<[], SchemaEntry>("SELECT type, name, coalesce(sql, '') AS sql FROM sqlite_schema");
  // Indexes that SQLite makes automatically have no text, and follow from their tables.
  return all.all().filter(({ sql }) => sql !== '');
}

const COMMENT_OR_SPACE = /('(?:[^']|'')*'|"(?:[^"]|"")*")|(?:--.*|\s)+/g;

/** Comments may change with a version, and a table may have lost its line ends. */
function textOf({ type, name, sql }: SchemaEntry): string {
  return [type, name, sql.replace(COMMENT_OR_SPACE, (_, quoted?: string) => quoted ?? ' ')].join(' ');
}

/**
 * Checks every row of an archive before anything of it is imported: the file may come from anywhere. Types, sizes and
 * bounds follow from our own layout, whose columns name their units; payloads follow the shapes they are read by.
 * @returns the first fault, with its table and row; null = none
 */
export function faultOfArchive(archive: Database, runId: number): string | null {
  if (!isRunId(runId)) return `table run, row ${runId}: its id is out of bounds`;
  return withLayout((layout) => {
    const owned = new Set(['run', ...runTables(layout).map((table) => table.name)]);
    return faultOfTables(archive, layout, owned, OF_ARCHIVE)?.what ?? faultOfSamples(archive, runId);
  });
}

/**
 * Checks every row of a record of the current layout in the same way, before it replaces another one.
 * @returns the first fault; null = none
 */
export function faultOfRecord(db: Database): RecordFault | null {
  return withLayout((layout) => {
    const tables = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%'";
    const names = layout.prepare<[], string>(tables).pluck().all();
    const grouped = names.filter((name) => !BLOBS_OF_SAMPLES.has(name));
    const fault = faultOfTables(db, layout, new Set(grouped), OF_RECORD) ?? faultOfReferences(db);
    if (fault !== null) return fault;
    for (const runId of db.prepare<[], number>('SELECT id FROM run').pluck().iterate()) {
      if (!isRunId(runId)) return { what: `table run, row ${runId}: its id is out of bounds`, runId: null };
      const what = faultOfSamples(db, runId) ?? faultOfJournal(db, runId);
      if (what !== null) return { what, runId };
    }
    return null;
  });
}

const isRunId = (id: unknown): id is number => Number.isInteger(id) && Number(id) >= 1 && Number(id) <= RUN_ID_MAX;

function withLayout<T>(use: (layout: Database) => T, number = LAYOUT): T {
  const layout = new Sqlite(':memory:');
  try {
    migrate(layout, number);
    return use(layout);
  } finally {
    layout.close();
  }
}

function faultOfTables(
  db: Database,
  layout: Database,
  tables: ReadonlySet<string>,
  bounds: Bounds,
): RecordFault | null {
  const ofRuns = new Set(['run', ...runTables(layout).map(({ name }) => name)]);
  for (const name of tables) {
    const textMax = ofRuns.has(name) && name !== 'examination' ? TEXT_MAX : LONG_TEXT_MAX;
    const columns = layout.pragma(`table_info('${name}')`) as Column[];
    const rowsMax = (bounds === OF_ARCHIVE ? ROWS_OF_ARCHIVE_MAX.get(name) : undefined) ?? bounds.rowsMax;
    const fault = faultOfTable(db, name, columns, { ...bounds, rowsMax, textMax });
    if (fault !== null) return fault;
  }
  return null;
}

function faultOfTable(
  db: Database,
  table: string,
  columns: readonly Column[],
  { rowsMax, idMax, textMax }: Bounds & { readonly textMax: number },
): RecordFault | null {
  const names = columns.map(({ name }) => name);
  const rows = Number(db.prepare(`SELECT count(*) FROM ${table}`).pluck().get());
  if (rows > rowsMax) return { what: `table ${table} has ${rows} rows, more than ${rowsMax}`, runId: null };
  const key = columns.filter(({ pk }) => pk > 0).map(({ name }) => name);
  const faultAt = (row: Row, what: string): RecordFault => ({
    what: `table ${table}, row ${key.map((name) => String(row[name]).slice(0, 20)).join('/')}: ${what}`,
    runId: runOf(db, table, names, key, row),
  });
  // Sizes come first and from the headers of the rows, so that a huge text is never read into memory.
  for (const { name } of columns) {
    const tooLong = db
      .prepare(`SELECT ${key.join()} FROM ${table} WHERE octet_length("${name}") > ${textMax} LIMIT 1`)
      .get() as Row | undefined;
    if (tooLong !== undefined) return faultAt(tooLong, `${name} is longer than ${textMax} bytes`);
  }
  const all = names.map((name) => `"${name}"`).join();
  for (const row of db.prepare(`SELECT ${all} FROM ${table}`).iterate() as Iterable<Row>) {
    try {
      for (const column of columns) checkValue(column, row[column.name], idMax);
      checkStored(table, row);
    } catch (thrown) {
      // It becomes a part of a sentence.
      return faultAt(row, messageOf(thrown).replace(/\.$/, ''));
    }
  }
  return null;
}

/** The run to which a row belongs, also through its spool. */
function runOf(db: Database, table: string, names: readonly string[], key: readonly string[], row: Row): number | null {
  const column = table === 'run' ? 'id' : ['run_id', 'spool_id'].find((name) => names.includes(name));
  if (column === undefined) return null;
  const ask = (source: string, where: string, ...of: unknown[]): unknown =>
    db
      .prepare(`SELECT ${source} WHERE ${where}`)
      .pluck()
      .get(...of);
  const id = ask(
    `${column} FROM ${table}`,
    key.map((name) => `"${name}" = ?`).join(' AND '),
    ...key.map((name) => row[name]),
  );
  const runId = column === 'spool_id' ? ask('run_id FROM spool', 'id = ?', id) : id;
  return isRunId(runId) ? runId : null;
}

/** @throws Error that names the column */
function checkValue({ name, type, notnull, pk }: Column, value: unknown, idMax: number): void {
  if (value === null) {
    if (notnull === 1) throw new Error(`${name} is missing`);
    return;
  }
  if (type === 'TEXT') {
    if (typeof value !== 'string') throw new Error(`${name} is not text`);
    return;
  }
  if (type === 'BLOB') {
    if (!(value instanceof Uint8Array)) throw new Error(`${name} is not a series of bytes`);
    return;
  }
  if (typeof value !== 'number' || !Number.isFinite(value)) throw new Error(`${name} is not a finite number`);
  if (type === 'INTEGER' && !Number.isSafeInteger(value)) throw new Error(`${name} is not a whole number`);
  if (pk === 1 && type === 'INTEGER' && Math.abs(value) > idMax) throw new Error(`its ${name} is out of bounds`);
}

/** What refers to rows that are not there, and the highest ids that were ever used. */
function faultOfReferences(db: Database): RecordFault | null {
  const [lost] = db.pragma('foreign_key_check') as { table: string; rowid: number | null; parent: string }[];
  if (lost !== undefined)
    return { what: `table ${lost.table}, row ${lost.rowid ?? '?'}: its ${lost.parent} is missing`, runId: null };
  const used = db
    .prepare<[], string>(
      `SELECT name FROM sqlite_sequence WHERE NOT (typeof(seq) IN ('integer', 'real') AND seq BETWEEN 0 AND ${OF_RECORD.idMax})`,
    )
    .pluck()
    .get();
  if (used === undefined) return null;
  return { what: `table sqlite_sequence, row ${used}: its number is out of bounds`, runId: null };
}
