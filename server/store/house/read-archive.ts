import { existsSync } from 'node:fs';
import Sqlite, { type Database } from 'better-sqlite3';
import { messageOf, Problem } from '../../problem/problem.ts';
import { LAYOUT, layoutOf, migrate } from '../migrations/migrate.ts';
import { blockId } from '../samples/sample-ids.ts';
import { checkFile } from './check-file.ts';
import { type RunTable, runTables } from './run-tables.ts';
import { ARCHIVE_ID, SAMPLE_TABLES } from './write-archive.ts';

type Row = Record<string, unknown>;

/**
 * Take a run out of a prepared archive into the record, with everything on it, under new numbers.
 * @param prepared what `prepareArchive` said of the file
 * @returns the run's number here
 * @throws Problem `bad-archive`; the record is then as it was
 */
export function takeIn(db: Database, file: string, prepared: Prepared): number {
  if ('fault' in prepared) throw bad(prepared.fault);
  const oldRunId = prepared.runId;
  db.prepare('ATTACH ? AS given').run(file);
  try {
    return db.transaction(() => copyRun(db, oldRunId)).immediate();
  } catch (thrown) {
    throw ofTheArchive(thrown) ? bad(messageOf(thrown), thrown) : thrown;
  } finally {
    db.exec('DETACH given');
  }
}

/** The one run of an archive, or what is wrong with the file: plain, so that it crosses threads. */
export type Prepared = { readonly runId: number } | { readonly fault: string };

/**
 * See that the file is a whole archive that this program understands, and carry it forward to this program's layout: give a
 * copy. Reads all of it.
 */
export function prepareArchive(file: string): Prepared {
  const faults = existsSync(file) ? checkFile(file) : ['there is no such file'];
  if (faults.length > 0) return { fault: faults[0]! };
  const archive = new Sqlite(file);
  try {
    // It comes from anywhere: nothing that its schema calls may do more than compute.
    archive.pragma('trusted_schema = OFF');
    const active = "SELECT name FROM sqlite_schema WHERE type IN ('view', 'trigger')";
    const name = archive.prepare<[], string>(active).pluck().get();
    if (name !== undefined) return { fault: `it holds something that no archive holds, ${name}` };
    if (archive.pragma('application_id', { simple: true }) !== ARCHIVE_ID)
      return { fault: 'it is another kind of file' };
    const layout = layoutOf(archive);
    if (layout > LAYOUT) {
      return { fault: `a newer Strandward wrote it (layout ${layout}; this one knows up to ${LAYOUT})` };
    }
    migrate(archive);
    const runs = archive.prepare<[], number>('SELECT id FROM run WHERE ended_ms IS NOT NULL').pluck().all();
    if (runs.length !== 1) return { fault: `it holds ${runs.length} ended runs, not one` };
    return { runId: runs[0]! };
  } catch (thrown) {
    return { fault: messageOf(thrown) };
  } finally {
    archive.close();
  }
}

function copyRun(db: Database, oldRunId: number): number {
  const ids = new Map<string, Map<unknown, number>>();
  const run = db
    .prepare<[number], Row>(`SELECT ${columnsOf(db, 'run').join()} FROM given.run WHERE id = ?`)
    .get(oldRunId)!;
  const runId = insert(db, 'run', without(run, 'id'));
  ids.set('run', new Map([[oldRunId, runId]]));
  const tables = runTables(db);
  for (const table of tables.filter(({ name }) => name === 'alarm')) copyAlarms(db, table, ids);
  for (const table of tables.filter(({ name }) => name !== 'alarm')) copyRows(db, table, ids);
  const shift = blockId(runId, 0) - blockId(oldRunId, 0);
  for (const name of SAMPLE_TABLES) {
    const columns = columnsOf(db, name).slice(1).join();
    db.prepare(
      `INSERT INTO main.${name} (id, ${columns}) SELECT id + ?, ${columns} FROM given.${name} WHERE id >= ? AND id < ?`,
    ).run(shift, blockId(oldRunId, 0), blockId(oldRunId + 1, 0));
  }
  return runId;
}

function copyRows(db: Database, table: RunTable, ids: Map<string, Map<unknown, number>>): void {
  const own = new Map<unknown, number>();
  ids.set(table.name, own);
  const alarms = ids.get('alarm');
  const order = table.hasId ? 'ORDER BY id' : '';
  for (const row of db
    .prepare<[], Row>(`SELECT ${columnsOf(db, table.name).join()} FROM given.${table.name} ${order}`)
    .all()) {
    for (const [column, owner] of table.references) {
      if (row[column] !== null) row[column] = ids.get(owner)?.get(row[column]) ?? null;
    }
    if (table.name === 'alarm_journal') renumberAlarm(row, 'alarm_id', alarms);
    const id = insert(db, table.name, table.hasId ? without(row, 'id') : row);
    if (table.hasId) own.set(row.id, id);
  }
}

/**
 * Alarms of the past are numbered downwards from −1: the numbers above belong to the line that is being watched, and none of
 * them calls for anybody here.
 */
function copyAlarms(db: Database, { name }: RunTable, ids: Map<string, Map<unknown, number>>): void {
  const own = new Map<unknown, number>();
  ids.set(name, own);
  let next = Math.min(0, db.prepare<[], number>('SELECT coalesce(min(id), 0) FROM main.alarm').pluck().get()!);
  for (const row of db.prepare<[], Row>(`SELECT ${columnsOf(db, name).join()} FROM given.alarm ORDER BY id`).all()) {
    own.set(row.id, --next);
    renumberAlarm(row, 'id', own);
    insert(db, name, { ...row, run_id: ids.get('run')!.get(row.run_id) ?? null, state: 'normal' });
  }
}

function renumberAlarm(row: Row, column: string, ids: ReadonlyMap<unknown, number> | undefined): void {
  const id = ids?.get(row[column]);
  if (id === undefined) return;
  row[column] = id;
  row.payload = JSON.stringify({ ...(JSON.parse(String(row.payload)) as object), id });
}

function insert(db: Database, table: string, row: Row): number {
  const columns = Object.keys(row).map(quoted);
  const { lastInsertRowid } = db
    .prepare(`INSERT INTO main.${table} (${columns.join()}) VALUES (${columns.map(() => '?').join()})`)
    .run(...Object.values(row));
  return Number(lastInsertRowid);
}

/** Our own columns of a table, never those that the archive names. */
function columnsOf(db: Database, table: string): string[] {
  return (db.pragma(`main.table_info('${table}')`) as { name: string }[]).map(({ name }) => quoted(name));
}

function quoted(name: string): string {
  return `"${name.replaceAll('"', '""')}"`;
}

/** What the archive holds does not fit, rather than that the disk or the memory refuses. */
function ofTheArchive(thrown: unknown): boolean {
  if (thrown instanceof Sqlite.SqliteError)
    return /^SQLITE_(ERROR|CONSTRAINT|MISMATCH|CORRUPT|TOOBIG|RANGE)/.test(thrown.code);
  return thrown instanceof SyntaxError || thrown instanceof RangeError;
}

function without(row: Row, column: string): Row {
  const { [column]: _, ...rest } = row;
  return rest;
}

function bad(what: string, cause?: unknown): Problem {
  return new Problem(
    'bad-archive',
    `This is no archive of a run that could be taken in: ${what}.`,
    'Give a file that “Export the whole run” made, unchanged. The record is as it was.',
    { cause },
  );
}
