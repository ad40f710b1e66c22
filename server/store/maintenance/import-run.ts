import Sqlite, { type Database } from 'better-sqlite3';
import { messageOf } from '../../problem/problem.ts';
import { LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';
import { removeSamples } from './orphaned-samples.ts';
import { badArchive, type Prepared } from './read-archive.ts';
import { type RunTable, runTables } from './run-tables.ts';

/** Rows that one step copies: a few hundred kilobytes, so that no alarm is delayed. */
const ROWS_A_STEP = 32;

/**
 * Imports a run from a prepared archive with everything about it, under new ids. The readings are copied first, in small
 * steps with pauses, so that the monitoring is not delayed; they stay invisible until their run exists. Everything else
 * follows in one transaction. What a kill leaves behind is removed at the next start.
 * @param prepared the result of `prepareArchive` for the file
 * @param stop ends it early; the promise then rejects with its reason
 * @returns the new id of the run
 * @throws Problem `bad-archive`; the record is then unchanged
 */
export async function importRun(db: Database, file: string, prepared: Prepared, stop?: AbortSignal): Promise<number> {
  if ('fault' in prepared) throw badArchive(prepared.fault);
  const oldRunId = prepared.runId;
  db.prepare('ATTACH ? AS archive').run(file);
  try {
    const runId = reserveRun(db);
    try {
      await copySamples(db, oldRunId, runId, stop);
      db.transaction(() => copyRecord(db, oldRunId, runId)).immediate();
      return runId;
    } catch (thrown) {
      // If this fails too, the next start removes them. The first error is the one to report.
      await removeSamples(db, runId).catch(() => {});
      throw thrown;
    }
  } catch (thrown) {
    throw isFaultOfArchive(thrown) ? badArchive(messageOf(thrown), thrown) : thrown;
  } finally {
    // The record may have been closed in the meantime.
    if (db.open) db.exec('DETACH archive');
  }
}

/** Reserves a run id: AUTOINCREMENT never assigns the id of a deleted row again. */
function reserveRun(db: Database): number {
  return db
    .transaction(() => {
      const { lastInsertRowid } = db
        .prepare("INSERT INTO main.run (started_ms, ended_ms, time_zone, source_title) VALUES (0, 0, '', '')")
        .run();
      db.prepare('DELETE FROM main.run WHERE id = ?').run(lastInsertRowid);
      return Number(lastInsertRowid);
    })
    .immediate();
}

async function copySamples(db: Database, oldRunId: number, runId: number, stop?: AbortSignal): Promise<void> {
  for (const { name, firstId } of SAMPLE_TABLES) {
    const shift = firstId(runId) - firstId(oldRunId);
    const columns = columnsOf(db, name).slice(1).join();
    const copy = db.prepare(
      `INSERT INTO main.${name} (id, ${columns}) SELECT id + ?, ${columns} FROM archive.${name} WHERE id > ? AND id <= ?`,
    );
    const stepEnd = db
      .prepare<[number, number], number | null>(
        `SELECT max(id) FROM (SELECT id FROM archive.${name} WHERE id > ? AND id < ? ORDER BY id LIMIT ${ROWS_A_STEP})`,
      )
      .pluck();
    let last = firstId(oldRunId) - 1;
    for (;;) {
      const end = stepEnd.get(last, firstId(oldRunId + 1)) ?? null;
      if (end === null) break;
      stop?.throwIfAborted();
      copy.run(shift, last, end);
      last = end;
      await new Promise((resolve) => setImmediate(resolve));
    }
  }
}

/** Rows get new ids, so a corrected date cannot be taken back here. A wrong one raises no alarm here. */
const OWN_VALUES = new Map([
  ['"moved_rows"', 'NULL'],
  ['"date_settled"', '1'],
]);

/** Copies everything but the readings: some thousand rows. The run is visible from then on. */
function copyRecord(db: Database, oldRunId: number, runId: number): void {
  const columns = columnsOf(db, 'run').slice(1);
  const values = columns.map((column) => OWN_VALUES.get(column) ?? column);
  db.prepare(
    `INSERT INTO main.run (id, ${columns.join()}) SELECT ?, ${values.join()} FROM archive.run WHERE id = ?`,
  ).run(runId, oldRunId);
  const newIds = new NewIds((column) => `CASE WHEN ${column} = ${oldRunId} THEN ${runId} END`);
  // Examinations follow from the readings; they are imported only if the archive has no readings left.
  const thinned = db.prepare('SELECT 1 FROM archive.run WHERE id = ? AND thinned_ms IS NOT NULL').get(oldRunId);
  const tables = runTables(db).filter(({ name }) => name !== 'examination' || thinned !== undefined);
  // Alarms first: their journal refers to them without a foreign key.
  for (const table of [...tables.filter(isAlarm), ...tables.filter((each) => !isAlarm(each))]) {
    if (table.hasId) newIds.add(table.name, newIdOf(db, table.name));
    copyRows(db, table, newIds);
  }
}

const isAlarm = ({ name }: RunTable): boolean => name === 'alarm';

/** SQL for the new id of a row of the archive, from the column that holds its old id. NULL if the archive has no such row. */
type NewId = (column: string) => string;

/** How the ids of each table are translated. */
class NewIds {
  readonly #byTable: Map<string, NewId>;

  constructor(ofRun: NewId) {
    this.#byTable = new Map([['run', ofRun]]);
  }

  add(table: string, newId: NewId): void {
    this.#byTable.set(table, newId);
  }

  of(table: string, column: string): string {
    const newId = this.#byTable.get(table);
    if (newId === undefined) throw new TypeError(`Rows of ${table} are copied after rows that refer to them.`);
    return newId(column);
  }
}

function newIdOf(db: Database, table: string): NewId {
  const held = (column: string) => `(SELECT id FROM archive.${table} AS owner WHERE owner.id = ${column})`;
  const ask = (sql: string) => db.prepare<[], number>(sql).pluck().get() ?? 0;
  if (table === 'alarm') {
    // Imported alarms are numbered downwards from −1. Positive ids belong to the line that is being monitored, and only
    // those notify anyone.
    const next = Math.min(0, ask('SELECT coalesce(min(id), 0) FROM main.alarm')) - 1;
    const first = ask('SELECT coalesce(min(id), 0) FROM archive.alarm');
    return (column) => `${next} - (${held(column)} - ${first})`;
  }
  const used = Math.max(
    ask(`SELECT coalesce(max(id), 0) FROM main.${table}`),
    ask(`SELECT coalesce(max(seq), 0) FROM main.sqlite_sequence WHERE name = '${table}'`),
  );
  const shift = used + 1 - ask(`SELECT coalesce(min(id), 0) FROM archive.${table}`);
  return (column) => `${held(column)} + ${shift}`;
}

function copyRows(db: Database, table: RunTable, newIds: NewIds): void {
  const values = table.columns.map((name) => {
    const column = `t.${quoted(name)}`;
    if (table.hasId && name === 'id') return newIds.of(table.name, column);
    const owner = table.references.get(name);
    if (owner !== undefined) return newIds.of(owner, column);
    // The printer with that id may be a different one in this record.
    if (table.name === 'spool_choice' && name === 'printer_id') return String(LINE_PRINTER_ID);
    if (table.name === 'alarm' && name === 'state') return "'normal'";
    if (table.name === 'alarm' && name === 'payload') return renumbered(column, newIds.of('alarm', 't.id'), newIds);
    if (table.name === 'alarm_journal' && name === 'alarm_id') return heldAlarm(newIds, column);
    if (table.name === 'alarm_journal' && name === 'payload')
      return renumbered(column, heldAlarm(newIds, 't.alarm_id'), newIds);
    return column;
  });
  db.exec(
    `INSERT INTO main.${table.name} (${table.columns.map(quoted).join()}) SELECT ${values.join()} FROM archive.${table.name} AS t
     ${table.hasId ? 'ORDER BY t.id' : ''}`,
  );
}

/** The new id of the alarm of a journal step; below 0 even if the archive does not hold it, so that it notifies no one. */
function heldAlarm(newIds: NewIds, column: string): string {
  return `coalesce(${newIds.of('alarm', column)}, -abs(${column}))`;
}

/** SQL for the JSON of an alarm with its new ids. Fails if the old text is no JSON. */
function renumbered(payload: string, id: string, newIds: NewIds): string {
  const runId = newIds.of('run', `${payload} ->> '$.facts.runId'`);
  // A merge patch (RFC 7396): NULL, for a run that the archive does not hold, removes the field.
  return `json_patch(${payload}, json_object('id', ${id}, 'facts', json_object('runId', ${runId})))`;
}

/** The columns of a table by our own schema, never by the archive's. */
function columnsOf(db: Database, table: string): string[] {
  return (db.pragma(`main.table_info('${table}')`) as { name: string }[]).map(({ name }) => quoted(name));
}

function quoted(name: string): string {
  return `"${name.replaceAll('"', '""')}"`;
}

/** The content of the archive is at fault, not the disk or the memory. */
function isFaultOfArchive(thrown: unknown): boolean {
  if (thrown instanceof Sqlite.SqliteError)
    return /^SQLITE_(ERROR|CONSTRAINT|MISMATCH|CORRUPT|TOOBIG|RANGE)/.test(thrown.code);
  return thrown instanceof RangeError;
}
