import Sqlite, { type Database } from 'better-sqlite3';
import { messageOf } from '../../problem/problem.ts';
import { LINE_PRINTER_ID } from '../../strand/verdict/printer-profile.ts';
import { SAMPLE_TABLES } from '../samples/sample-ids.ts';
import { badArchive, type Prepared } from './read-archive.ts';
import { type RunTable, runTables } from './run-tables.ts';
import { removeSamples } from './stray-samples.ts';

/** Rows that one step copies: some hundred kilobytes, so that no alarm waits for it. */
const ROWS_A_STEP = 32;

/**
 * Take a run out of a prepared archive into the record, with everything on it, under new numbers. Goes in small steps with
 * room between them, so that a line that is being watched is not held up: the readings first, which nobody sees before
 * their run is there, then all the rest at once. What a kill leaves of them is swept away at the next start.
 * @param prepared what `prepareArchive` said of the file
 * @param stop ends it early; the promise then rejects with its reason
 * @returns the run's number here
 * @throws Problem `bad-archive`; the record is then as it was
 */
export async function takeIn(db: Database, file: string, prepared: Prepared, stop?: AbortSignal): Promise<number> {
  if ('fault' in prepared) throw badArchive(prepared.fault);
  const oldRunId = prepared.runId;
  db.prepare('ATTACH ? AS given').run(file);
  try {
    const runId = reserveRun(db);
    try {
      await copySamples(db, oldRunId, runId, stop);
      db.transaction(() => copyText(db, oldRunId, runId)).immediate();
      return runId;
    } catch (thrown) {
      // Where the disk refuses this too, the next start does it: why it could not be taken in is what must be told.
      await removeSamples(db, runId).catch(() => {});
      throw thrown;
    }
  } catch (thrown) {
    throw ofTheArchive(thrown) ? badArchive(messageOf(thrown), thrown) : thrown;
  } finally {
    // The record may have been closed meanwhile.
    if (db.open) db.exec('DETACH given');
  }
}

/** A number that nobody else gets, though its run is not there yet. */
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
      `INSERT INTO main.${name} (id, ${columns}) SELECT id + ?, ${columns} FROM given.${name} WHERE id > ? AND id <= ?`,
    );
    const stepEnd = db
      .prepare<[number, number], number | null>(
        `SELECT max(id) FROM (SELECT id FROM given.${name} WHERE id > ? AND id < ? ORDER BY id LIMIT ${ROWS_A_STEP})`,
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

/** Everything but the readings, in one go: some thousand rows. The run itself is then there. */
function copyText(db: Database, oldRunId: number, runId: number): void {
  const rest = columnsOf(db, 'run').slice(1).join();
  db.prepare(`INSERT INTO main.run (id, ${rest}) SELECT ?, ${rest} FROM given.run WHERE id = ?`).run(runId, oldRunId);
  const here = new Map<string, NumberHere>([
    ['run', (column) => `CASE WHEN ${column} = ${oldRunId} THEN ${runId} END`],
  ]);
  // What readings say is worked out from them, and only where the archive has none left is its word taken.
  const thinned = db.prepare('SELECT 1 FROM given.run WHERE id = ? AND thinned_ms IS NOT NULL').get(oldRunId);
  const tables = runTables(db).filter(({ name }) => name !== 'examination' || thinned !== undefined);
  // The journal of alarms names them without a foreign key.
  for (const table of [...tables.filter(isAlarm), ...tables.filter((each) => !isAlarm(each))]) {
    if (table.hasId) here.set(table.name, numberHere(db, table.name));
    copyRows(db, table, here);
  }
}

const isAlarm = ({ name }: RunTable): boolean => name === 'alarm';

/** The number that a row of the archive gets here, as SQL of its number there; NULL for a row that it does not hold. */
type NumberHere = (column: string) => string;

function numberHere(db: Database, table: string): NumberHere {
  const held = (column: string) => `(SELECT id FROM given.${table} AS owner WHERE owner.id = ${column})`;
  const ask = (sql: string) => db.prepare<[], number>(sql).pluck().get()!;
  if (table === 'alarm') {
    // Alarms of the past are numbered downwards from −1: the numbers above belong to the line that is being watched, and
    // none of them calls for anybody here.
    const next = Math.min(0, ask('SELECT coalesce(min(id), 0) FROM main.alarm')) - 1;
    const first = ask('SELECT coalesce(min(id), 0) FROM given.alarm');
    return (column) => `${next} - (${held(column)} - ${first})`;
  }
  const used = Math.max(
    ask(`SELECT coalesce(max(id), 0) FROM main.${table}`),
    ask(`SELECT coalesce(max(seq), 0) FROM main.sqlite_sequence WHERE name = '${table}'`),
  );
  const shift = used + 1 - ask(`SELECT coalesce(min(id), 0) FROM given.${table}`);
  return (column) => `${held(column)} + ${shift}`;
}

function copyRows(db: Database, table: RunTable, here: ReadonlyMap<string, NumberHere>): void {
  const columns = columnsOf(db, table.name);
  const values = columns.map((quotedName, i) => {
    const column = `t.${quotedName}`;
    const name = table.columns[i]!;
    if (table.hasId && name === 'id') return here.get(table.name)!(column);
    const owner = table.references.get(name);
    if (owner !== undefined) return here.get(owner)!(column);
    // A printer with that number may be another one here.
    if (table.name === 'spool_choice' && name === 'printer_id') return String(LINE_PRINTER_ID);
    if (table.name === 'alarm' && name === 'state') return "'normal'";
    if (table.name === 'alarm' && name === 'payload') return renumbered(column, here.get('alarm')!('t.id'), here);
    if (table.name === 'alarm_journal' && name === 'alarm_id') return heldAlarm(here, column);
    if (table.name === 'alarm_journal' && name === 'payload')
      return renumbered(column, heldAlarm(here, 't.alarm_id'), here);
    return column;
  });
  db.exec(
    `INSERT INTO main.${table.name} (${columns.join()}) SELECT ${values.join()} FROM given.${table.name} AS t
     ${table.hasId ? 'ORDER BY t.id' : ''}`,
  );
}

/** The alarm that a step of the journal tells of: below 0 also where the archive does not hold it, so that it calls for nobody. */
function heldAlarm(here: ReadonlyMap<string, NumberHere>, column: string): string {
  return `coalesce(${here.get('alarm')!(column)}, -abs(${column}))`;
}

/** What an alarm says of its own number and of its run's. Throws where it is no JSON. */
function renumbered(payload: string, id: string, here: ReadonlyMap<string, NumberHere>): string {
  const runId = here.get('run')!(`${payload} ->> '$.facts.runId'`);
  // A merge patch (RFC 7396): a run that the archive does not hold has no number here, and NULL takes it out.
  return `json_patch(${payload}, json_object('id', ${id}, 'facts', json_object('runId', ${runId})))`;
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
  return thrown instanceof RangeError;
}
