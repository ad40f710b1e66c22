import { randomInt } from 'node:crypto';
import Sqlite, { type Database } from 'better-sqlite3';
import { HOUSE_CODE_LETTERS, UNKNOWN_HOUSE } from '../../entities/house.ts';
import { messageOf } from '../../problem/problem.ts';
import { refusedArchive, refusedLog } from '../../problem/refused-run.ts';
import { LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import { ABANDONED_MS, IMPORTING_MS } from '../record/bin.ts';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';
import { emptying } from './emptying.ts';
import type { Prepared } from './read-archive.ts';
import { type RunTable, runTables } from './run-tables.ts';

/** Blocks that one step copies: a few hundred kilobytes, so that no alarm is delayed. */
const BLOCKS_A_STEP = 32;
/** Other rows that one step copies. */
const ROWS_A_STEP = 250;

/**
 * Imports a run from a prepared archive with everything about it, under new ids. All of it is copied in small steps with pauses,
 * so that the monitoring is not delayed. Until the last step the run is marked as being imported and in no list. What
 * a failure or a kill leaves behind is removed like a deleted run.
 * @param prepared the result of `prepareArchive` for the file
 * @param stop ends it early; the promise then rejects with its reason
 * @param madeHere it was judged by this service, so it belongs to this house and is named by its new id
 * @returns the new id of the run
 * @throws Problem `bad-archive`, or `bad-log` if it was made here; no part of the run is then in the record
 */
export async function importRun(
  db: Database,
  file: string,
  prepared: Prepared,
  stop?: AbortSignal,
  madeHere = false,
): Promise<number> {
  const refused = madeHere ? refusedLog : refusedArchive;
  if ('fault' in prepared) throw refused(prepared.fault);
  const oldRunId = prepared.runId;
  db.prepare('ATTACH ? AS archive').run(file);
  try {
    const { runId, tables, newIds } = db.transaction(() => begin(db, oldRunId, madeHere)).immediate();
    try {
      await copySamples(db, oldRunId, runId, stop);
      for (const table of tables) await copyRows(db, table, newIds, stop);
      db.prepare('UPDATE main.run SET deleted_ms = NULL, deleted_by = NULL WHERE id = ?').run(runId);
      return runId;
    } catch (thrown) {
      // If this fails too, the next start removes it. The first error is the one to report.
      await removeAbandoned(db).catch(() => {});
      throw thrown;
    }
  } catch (thrown) {
    throw isFaultOfArchive(thrown) ? refused(messageOf(thrown), thrown) : thrown;
  } finally {
    // The record may have been closed in the meantime.
    if (db.open) db.exec('DETACH archive');
  }
}

/**
 * The run of the record that a prepared archive holds, by the name on its labels or by its start and end; null = none. A
 * corrected date moves both, so by name only the duration must agree.
 */
export function runAlreadyHere(db: Database, file: string, prepared: Prepared): number | null {
  if ('fault' in prepared) return null;
  db.prepare('ATTACH ? AS archive').run(file);
  try {
    const same = db.prepare<[number], number>(
      `SELECT here.id FROM main.run AS here, archive.run AS there
       WHERE there.id = ? AND here.deleted_ms IS NULL AND here.ended_ms - here.started_ms = there.ended_ms - there.started_ms
         AND (here.started_ms = there.started_ms AND here.source_title = there.source_title
           OR coalesce(here.house, (SELECT code FROM main.house)) = there.house
             AND coalesce(here.house_run, here.id) = there.house_run)
       ORDER BY here.id LIMIT 1`,
    );
    return same.pluck().get(prepared.runId) ?? null;
  } finally {
    db.exec('DETACH archive');
  }
}

/** Removes what failed or killed imports left behind, in small steps. None may be in progress. */
export async function removeAbandoned(db: Database): Promise<void> {
  db.prepare(`UPDATE run SET deleted_ms = ${ABANDONED_MS} WHERE deleted_ms = ${IMPORTING_MS}`).run();
  const step = emptying(db);
  while (step(ABANDONED_MS + 1)) await pause();
}

const pause = () => new Promise((resolve) => setImmediate(resolve));

/** Rows get new ids, so a corrected date cannot be taken back here. A wrong one raises no alarm here. */
const OWN_VALUES = new Map([
  ['"moved_rows"', 'NULL'],
  ['"date_settled"', '1'],
  ['"deleted_ms"', String(IMPORTING_MS)],
  ['"deleted_by"', "''"],
]);

const MADE_HERE = [
  ['"house"', 'NULL'],
  ['"house_run"', 'NULL'],
] as const;

/** A run keeps the name that its labels carry. One that comes home belongs to this house again. */
function namedElsewhere(db: Database) {
  const known = db.prepare<[], string>('SELECT DISTINCT house FROM main.run WHERE house IS NOT NULL').pluck().all();
  let unknown: string;
  do unknown = UNKNOWN_HOUSE + randomLetter() + randomLetter();
  while (known.includes(unknown));
  return [
    ['"house"', `nullif(coalesce(house, '${unknown}'), (SELECT code FROM main.house))`],
    ['"house_run"', 'coalesce(house_run, id)'],
  ] as const;
}

const randomLetter = () => HOUSE_CODE_LETTERS[randomInt(HOUSE_CODE_LETTERS.length)];

/** Adds the row of the run, and reserves the ids of everything that belongs to it: others may write in between. */
function begin(
  db: Database,
  oldRunId: number,
  madeHere: boolean,
): { runId: number; tables: readonly RunTable[]; newIds: NewIds } {
  const columns = columnsOf(db, 'run').slice(1);
  const ownValues = new Map([...OWN_VALUES, ...(madeHere ? MADE_HERE : namedElsewhere(db))]);
  const values = columns.map((column) => ownValues.get(column) ?? column);
  const insert = `INSERT INTO main.run (${columns.join()}) SELECT ${values.join()} FROM archive.run WHERE id = ?`;
  const runId = Number(db.prepare(insert).run(oldRunId).lastInsertRowid);
  // Examinations follow from the readings; they are imported only if the archive has no readings left.
  const thinned = db.prepare('SELECT 1 FROM archive.run WHERE id = ? AND thinned_ms IS NOT NULL').get(oldRunId);
  const copied = runTables(db).filter(({ name }) => name !== 'examination' || thinned !== undefined);
  // Alarms first: their journal refers to them without a foreign key.
  const tables = [...copied.filter(isAlarm), ...copied.filter((each) => !isAlarm(each))];
  const newIds = new NewIds((column) => `CASE WHEN ${column} = ${oldRunId} THEN ${runId} END`);
  for (const table of tables) if (table.hasId) newIds.add(table.name, reserveIds(db, table.name));
  return { runId, tables, newIds };
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
        `SELECT max(id) FROM (SELECT id FROM archive.${name} WHERE id > ? AND id < ? ORDER BY id LIMIT ${BLOCKS_A_STEP})`,
      )
      .pluck();
    let last = firstId(oldRunId) - 1;
    for (;;) {
      const end = stepEnd.get(last, firstId(oldRunId + 1)) ?? null;
      if (end === null) break;
      stop?.throwIfAborted();
      copy.run(shift, last, end);
      last = end;
      await pause();
    }
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

function reserveIds(db: Database, table: string): NewId {
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
  const last = shift + ask(`SELECT coalesce(max(id), 0) FROM archive.${table}`);
  // The column has no type, and a number of JavaScript would stay a fraction there.
  const seq = BigInt(last);
  const reserved = db.prepare('UPDATE main.sqlite_sequence SET seq = ? WHERE name = ?').run(seq, table);
  if (reserved.changes === 0) db.prepare('INSERT INTO main.sqlite_sequence (name, seq) VALUES (?, ?)').run(table, seq);
  return (column) => `${held(column)} + ${shift}`;
}

async function copyRows(db: Database, table: RunTable, newIds: NewIds, stop?: AbortSignal): Promise<void> {
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
  const copy = db.prepare(
    `INSERT INTO main.${table.name} (${table.columns.map(quoted).join()})
     SELECT ${values.join()} FROM archive.${table.name} AS t
     ORDER BY ${table.key.map((column) => `t.${quoted(column)}`).join()} LIMIT ${ROWS_A_STEP} OFFSET ?`,
  );
  for (let done = 0; ; done += ROWS_A_STEP) {
    stop?.throwIfAborted();
    if (copy.run(done).changes < ROWS_A_STEP) return;
    await pause();
  }
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
