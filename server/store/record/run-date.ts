import type { Database } from 'better-sqlite3';
import { type MovedTimes, type TimesOfAlarm, timesIn, withMovedTimes } from '../../alarm/moved-alarm-times.ts';
import type { LogEntry, RunDate } from '../../monitor/ports/record.ts';
import { type RunTable, runTables } from '../maintenance/run-tables.ts';
import { operatorLog } from './operator-log.ts';
import { type MovedRows, movedRowsOf } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

/** Their times are moved as a whole, or within their JSON. */
const MOVED_OTHERWISE = new Set(['spool', 'alarm', 'alarm_journal']);

/** The last row of each table that has the wrong date; tables without such rows are left out. */
type LastRows = MovedRows['rows'];

/** Takes a few milliseconds on a slow machine; readings and other writes come in between. */
const STEPS_AT_A_TIME = 100;

interface RunDateRow {
  clock_ahead_s: number | null;
  moved_by_s: number;
  moved_rows: string | null;
  date_settled: number;
}

interface RowTime {
  readonly id: number;
  readonly ms: number;
}

/** Runs that were dated by a wrong clock, and how all their times are moved. */
export function runDateTable(db: Database, unreadable: UnreadableRows) {
  const log = operatorLog(db);
  const one = db.prepare<[number], RunDateRow>(
    'SELECT clock_ahead_s, moved_by_s, moved_rows, date_settled FROM run WHERE id = ?',
  );
  const wrong = db.prepare<[], { id: number; clock_ahead_s: number }>(
    `SELECT id, clock_ahead_s FROM run WHERE clock_ahead_s IS NOT NULL AND date_settled = 0
     AND ended_ms IS NOT NULL AND deleted_ms IS NULL LIMIT 1`,
  );
  const setAhead = db.prepare('UPDATE run SET clock_ahead_s = ? WHERE id = ?');
  const settle = db.prepare('UPDATE run SET date_settled = 1 WHERE id = ?');
  const moveRun = db.prepare(
    `UPDATE run SET started_ms = started_ms + :byMs, ended_ms = ended_ms + :byMs, moved_by_s = moved_by_s + :byMs / 1000,
     moved_rows = :rows, date_settled = 1 WHERE id = :runId`,
  );

  const keepRows = db.prepare('UPDATE run SET moved_rows = ? WHERE id = ?');
  const movedRuns = db
    .prepare<[], number>('SELECT id FROM run WHERE moved_rows IS NOT NULL AND deleted_ms IS NULL')
    .pluck();
  /** Original times by alarm, of the run whose alarms are being moved in this process. */
  let known: { readonly runId: number; readonly times: Map<number, Set<number>> } | null = null;

  const movedRows = (runId: number): MovedRows | null => {
    const stored = one.get(runId)?.moved_rows ?? null;
    const place = { table: 'run', row: runId, runId };
    return stored === null ? null : unreadable.read(place, () => movedRowsOf(stored));
  };
  const of = (runId: number): RunDate => {
    const row = one.get(runId);
    const aheadS = row?.clock_ahead_s ?? null;
    const rows = movedRows(runId);
    return {
      clockAheadMs: aheadS === null ? null : aheadS * 1000,
      movedByMs: (row?.moved_by_s ?? 0) * 1000,
      canBeMovedBack: rows !== null && rows.moving === null,
      isSettled: row?.date_settled === 1,
      isMoving: rows !== null && rows.moving !== null,
    };
  };
  /** Together with its entry in the log: all or nothing. */
  const moving = (back: boolean, lastRowsOf: (runId: number, byMs: number) => LastRows) =>
    db.transaction((runId: number, byMs: number, entry: Omit<LogEntry, 'id'>): void => {
      const rows = lastRowsOf(runId, byMs);
      moveRows(db, runId, byMs, rows);
      const after: MovedRows = { rows, moving: { byMs, after: 0, back } };
      moveRun.run({ runId, byMs, rows: JSON.stringify(after) });
      log.add(entry);
    }).immediate;

  return {
    of,
    /** An ended run whose date is wrong, and about which no user has decided yet; null = none. */
    wrong(): { runId: number; clockAheadMs: number } | null {
      const row = wrong.get();
      return row === undefined ? null : { runId: row.id, clockAheadMs: row.clock_ahead_s * 1000 };
    },
    setClockAhead(runId: number, aheadMs: number | null): void {
      setAhead.run(aheadMs === null ? null : Math.round(aheadMs / 1000), runId);
    },
    keep: db.transaction((runId: number, entry: Omit<LogEntry, 'id'>): void => {
      settle.run(runId);
      log.add(entry);
    }),
    move: moving(false, (runId, byMs) => wrongRows(db, runId, byMs)),
    /** Moves the same rows the other way. */
    moveBack: moving(true, (runId) => movedRows(runId)?.rows ?? {}),
    /** Runs with some alarms still at the old date, because the process was killed during the move. */
    moving: (): number[] => movedRuns.all().filter((runId) => movedRows(runId)?.moving),
    /** Moves the times within some steps of the alarm journal, and in the end those of the alarms. @returns null = there is more */
    moveAlarms: db.transaction((runId: number): MovedTimes | null => {
      const { rows, moving } = movedRows(runId) ?? { rows: {}, moving: null };
      if (moving === null) return { byMs: 0, times: new Map() };
      const { byMs, after, back } = moving;
      const lastStep = rows.alarm_journal ?? 0;
      // They need not be read again for each call.
      known =
        known?.runId === runId && after > 0 ? known : { runId, times: originalTimes(db, runId, moving, lastStep) };
      const { times } = known;
      const last = moveSteps(db, runId, moving, lastStep, times);
      if (last !== null) {
        const now: MovedRows = { rows, moving: { byMs, after: last, back } };
        keepRows.run(JSON.stringify(now), runId);
        return null;
      }
      const done: MovedRows = { rows, moving: null };
      keepRows.run(back ? null : JSON.stringify(done), runId);
      known = null;
      return { byMs, times: moveStandingAlarms(db, runId, byMs, times) };
    }).immediate,
  };
}

/**
 * Rows are only ever appended. Those written by the wrong clock come first; they end where the time is later than the end of the run,
 * or goes back because the clock was corrected.
 */
function wrongRows(db: Database, runId: number, byMs: number): LastRows {
  const run = db
    .prepare<[number], { started: number; ended: number }>(
      'SELECT started_ms started, ended_ms ended FROM run WHERE id = ?',
    )
    .get(runId);
  if (run === undefined) return {};
  const marginMs = Math.abs(byMs) / 2;
  const found: [string, number][] = [];
  for (const { table, time, ofRun } of statedTables(db)) {
    const rows = db.prepare<[number], RowTime>(`SELECT id, ${time} AS ms FROM ${table} WHERE ${ofRun} ORDER BY id`);
    let last: number | null = null;
    let latestMs = byMs < 0 ? run.started : Number.NEGATIVE_INFINITY;
    for (const { id, ms } of rows.iterate(runId)) {
      if (ms > run.ended + marginMs || ms < latestMs - marginMs) break;
      latestMs = Math.max(latestMs, ms);
      last = id;
    }
    if (last !== null) found.push([table, last]);
  }
  return Object.fromEntries(found);
}

/** Tables in which each row tells when a user stated something, or when something happened. */
function statedTables(db: Database): { table: string; time: string; ofRun: string }[] {
  return runTables(db).flatMap(({ name, columns, hasId, references }) => {
    const time = columns.find((column) => column.endsWith('_ms'));
    if (!hasId || time === undefined || (MOVED_OTHERWISE.has(name) && name !== 'alarm_journal')) return [];
    return [{ table: name, time, ofRun: ofRunIn(references) }];
  });
}

function ofRunIn(references: RunTable['references']): string {
  return [...references.values()].includes('run')
    ? 'run_id = ?'
    : 'spool_id IN (SELECT id FROM spool WHERE run_id = ?)';
}

function moveRows(db: Database, runId: number, byMs: number, lastRows: LastRows): void {
  db.prepare('UPDATE spool SET started_ms = started_ms + ?, ended_ms = ended_ms + ? WHERE run_id = ?').run(
    byMs,
    byMs,
    runId,
  );
  for (const { table, time, ofRun } of statedTables(db)) {
    const last = lastRows[table];
    if (last === undefined) continue;
    db.prepare(`UPDATE ${table} SET ${time} = ${time} + ? WHERE ${ofRun} AND id <= ?`).run(byMs, runId, last);
  }
  const ofRun = db.prepare<[number], Payload>('SELECT ordinal AS key, payload FROM measured_section WHERE run_id = ?');
  const writeSection = db.prepare('UPDATE measured_section SET payload = ? WHERE run_id = ? AND ordinal = ?');
  movePayloads(ofRun.all(runId), byMs, (payload, ordinal) => writeSection.run(payload, runId, ordinal));
  const ofSpool = db.prepare<[number], Payload>('SELECT inputs AS key, payload FROM examination WHERE spool_id = ?');
  const writeExamination = db.prepare('UPDATE examination SET payload = ? WHERE spool_id = ? AND inputs = ?');
  for (const id of db.prepare<[number], number>('SELECT id FROM spool WHERE run_id = ?').pluck().all(runId))
    movePayloads(ofSpool.all(id), byMs, (payload, inputs) => writeExamination.run(payload, id, inputs));
}

interface Payload {
  readonly key: string | number;
  readonly payload: string;
}

/** Sections and trends hold the times of their readings. */
function movePayloads(
  rows: readonly Payload[],
  byMs: number,
  write: (payload: string, key: Payload['key']) => void,
): void {
  for (const { key, payload } of rows) {
    const stored = parsed(payload, (name, value) =>
      (name === 'fromTimeMs' || name === 'toTimeMs') && typeof value === 'number' ? value + byMs : value,
    );
    if (stored !== null) write(JSON.stringify(stored), key);
  }
}

interface Step {
  readonly id: number;
  readonly alarm_id: number;
  readonly payload: string;
}

/**
 * Times of alarms in the steps that have been moved, as they were before, by alarm. A difference of whole seconds is taken
 * away without an error: the times keep their 11 binary digits after the point.
 */
function originalTimes(
  db: Database,
  runId: number,
  { byMs, after }: NonNullable<MovedRows['moving']>,
  lastStep: number,
): Map<number, Set<number>> {
  const times = new Map<number, Set<number>>();
  const moved = db.prepare<[number, number], Step>(
    'SELECT id, alarm_id, payload FROM alarm_journal WHERE run_id = ? AND id <= ? ORDER BY id',
  );
  for (const { alarm_id: alarmId, payload } of moved.iterate(runId, Math.min(after, lastStep))) {
    const alarm = parsed(payload) as TimesOfAlarm | null;
    if (alarm !== null) for (const ms of timesIn(alarm)) timesOf(times, alarmId).add(ms - byMs);
  }
  return times;
}

function timesOf(times: Map<number, Set<number>>, alarmId: number): Set<number> {
  const ofAlarm = times.get(alarmId) ?? new Set();
  times.set(alarmId, ofAlarm);
  return ofAlarm;
}

/** Later steps of an alarm repeat its earlier times. @returns the last step that was moved; null = there was none */
function moveSteps(
  db: Database,
  runId: number,
  { byMs, after }: NonNullable<MovedRows['moving']>,
  lastStep: number,
  times: Map<number, Set<number>>,
): number | null {
  const steps = db
    .prepare<[number, number], Step>(
      `SELECT id, alarm_id, payload FROM alarm_journal WHERE run_id = ? AND id > ? ORDER BY id LIMIT ${STEPS_AT_A_TIME}`,
    )
    .all(runId, after);
  const writeStep = db.prepare('UPDATE alarm_journal SET payload = ? WHERE id = ?');
  for (const { id, alarm_id: alarmId, payload } of steps) {
    const alarm = parsed(payload) as TimesOfAlarm | null;
    if (alarm === null) continue;
    const ofAlarm = timesOf(times, alarmId);
    if (id <= lastStep) for (const ms of timesIn(alarm)) ofAlarm.add(ms);
    writeStep.run(JSON.stringify(withMovedTimes(alarm, ofAlarm, byMs)), id);
  }
  return steps.at(-1)?.id ?? null;
}

/** @returns the times of those that have not returned to normal, because these are also kept elsewhere */
function moveStandingAlarms(
  db: Database,
  runId: number,
  byMs: number,
  times: ReadonlyMap<number, ReadonlySet<number>>,
): ReadonlyMap<number, ReadonlySet<number>> {
  const writeAlarm = db.prepare('UPDATE alarm SET payload = ? WHERE id = ?');
  const alarms = db.prepare<[number], { id: number; state: string; payload: string }>(
    'SELECT id, state, payload FROM alarm WHERE run_id = ?',
  );
  const standing = new Map<number, ReadonlySet<number>>();
  for (const { id, state, payload } of alarms.all(runId)) {
    const alarm = parsed(payload) as TimesOfAlarm | null;
    const ofAlarm = times.get(id);
    if (alarm === null || ofAlarm === undefined) continue;
    writeAlarm.run(JSON.stringify(withMovedTimes(alarm, ofAlarm, byMs)), id);
    if (state !== 'normal') standing.set(id, ofAlarm);
  }
  return standing;
}

/** null = it cannot be read, and is left as it is. */
function parsed(payload: string, reviver?: (name: string, value: unknown) => unknown): object | null {
  try {
    const stored: unknown = JSON.parse(payload, reviver);
    return typeof stored === 'object' ? stored : null;
  } catch {
    return null;
  }
}
