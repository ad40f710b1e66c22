import type { Database } from 'better-sqlite3';
import type { Alarm, AlarmChange, AlarmType } from '../../alarm/alarm.ts';
import type { JournalPageOf, JournalStep } from '../../monitor/ports/record.ts';
import { JOURNAL_COLUMNS, type JournalRow, placeOfStep, stepOf, stepsOf } from './journal-row.ts';
import { alarmOf } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

/** The current state of each alarm, the journal of all alarm steps, and how users set the alarm types. */
export function alarmTable(db: Database, unreadable: UnreadableRows) {
  const upsert = db.prepare(
    `INSERT INTO alarm (id, run_id, type, subject, state, payload) VALUES (?, ?, ?, ?, ?, ?)
     ON CONFLICT (id) DO UPDATE SET state = excluded.state, payload = excluded.payload`,
  );
  const append = db.prepare(
    'INSERT INTO alarm_journal (run_id, alarm_id, time_ms, what, by, came_from, why, payload) VALUES (?, ?, ?, ?, ?, ?, ?, ?)',
  );
  const adopt = db.prepare('UPDATE alarm SET run_id = ? WHERE id = ? AND run_id IS NULL');
  const adoptSteps = db.prepare('UPDATE alarm_journal SET run_id = ? WHERE alarm_id = ? AND run_id IS NULL');
  const runOfAlarm = db.prepare<[number], number | null>('SELECT run_id FROM alarm WHERE id = ?').pluck();
  const standing = db.prepare<[], { id: number; run_id: number | null; payload: string }>(
    "SELECT id, run_id, payload FROM alarm WHERE state <> 'normal' ORDER BY id",
  );
  // Alarms of imported runs have ids below 0.
  const lastId = db.prepare<[], number>('SELECT id FROM alarm WHERE id > 0 ORDER BY id DESC LIMIT 1').pluck();
  const journal = db.prepare<[number | null], JournalRow>(
    `SELECT ${JOURNAL_COLUMNS} FROM alarm_journal WHERE run_id IS ? ORDER BY time_ms, id`,
  );
  const pageWhere = (condition: string) => ({
    forwards: db.prepare<object, JournalRow>(
      `SELECT ${JOURNAL_COLUMNS} FROM alarm_journal WHERE ${condition}
       AND time_ms < :toMs AND (time_ms, id) > (:afterMs, :afterId) ORDER BY time_ms, id LIMIT :limit`,
    ),
    backwards: db.prepare<object, JournalRow>(
      `SELECT ${JOURNAL_COLUMNS} FROM alarm_journal WHERE ${condition}
       AND time_ms >= :fromMs AND (time_ms, id) < (:afterMs, :afterId) ORDER BY time_ms DESC, id DESC LIMIT :limit`,
    ),
  });
  const page = pageWhere('(run_id IS NULL OR run_id NOT IN (SELECT id FROM run WHERE deleted_ms IS NOT NULL))');
  const pageOfRun = pageWhere('run_id = :runId');
  const settings = db.prepare<[], { id: number; type: string; payload: string | null }>(
    'SELECT id, type, payload FROM alarm_setting WHERE id IN (SELECT max(id) FROM alarm_setting GROUP BY type)',
  );
  const saveSetting = db.prepare('INSERT INTO alarm_setting (type, payload, who, saved_ms) VALUES (?, ?, ?, ?)');
  return {
    /** A step after the end of the run, such as an answer in the morning, still belongs to the run of the alarm. */
    save: db.transaction((runId: number | null, changes: readonly AlarmChange[]): void => {
      for (const { alarm, step, timeMs, by, from, reason } of changes) {
        const payload = JSON.stringify(alarm);
        upsert.run(alarm.id, runId, alarm.type, alarm.subject, alarm.state, payload);
        append.run(runOfAlarm.get(alarm.id) ?? null, alarm.id, timeMs, step, by, from, reason, payload);
      }
    }),
    /** Alarms that already belong to a run stay with it. */
    adopt: db.transaction((runId: number, alarmIds: readonly number[]): void => {
      for (const id of alarmIds) if (adopt.run(runId, id).changes > 0) adoptSteps.run(runId, id);
    }),
    standing: (): Alarm[] =>
      unreadable.all(
        standing.all(),
        ({ id, run_id: runId }) => ({ table: 'alarm', row: id, runId }),
        ({ payload }) => alarmOf(payload),
      ),
    lastId: (): number => lastId.get() ?? 0,
    journal: (runId: number | null): AlarmChange[] => stepsOf(journal.all(runId), unreadable),
    journalPage({ runId, fromMs, toMs, newestFirst = false, after, limit }: JournalPageOf): JournalStep[] {
      const [from, way] = newestFirst ? [toMs, 'backwards' as const] : [fromMs, 'forwards' as const];
      let place = after ?? { timeMs: from, id: Number.NEGATIVE_INFINITY };
      const steps: JournalStep[] = [];
      // A page is full although some of its rows cannot be read: a shorter one is the last.
      while (steps.length < limit) {
        const left = { limit: limit - steps.length, afterMs: place.timeMs, afterId: place.id };
        const parameters = { ...left, ...(newestFirst ? { fromMs } : { toMs }), ...(runId === null ? {} : { runId }) };
        const rows = (runId === null ? page : pageOfRun)[way].all(parameters);
        steps.push(...unreadable.all(rows, placeOfStep, (row) => ({ ...stepOf(row), id: row.id, runId: row.run_id })));
        const last = rows.at(-1);
        if (last === undefined) break;
        place = { timeMs: last.time_ms, id: last.id };
      }
      return steps;
    },
    settings: (): Record<string, unknown> =>
      Object.fromEntries(
        unreadable.all(
          settings.all().filter(({ payload }) => payload !== null),
          ({ id }) => ({ table: 'alarm_setting', row: id, runId: null }),
          ({ type, payload }) => [type, JSON.parse(payload ?? '')],
        ),
      ),
    saveSetting(type: AlarmType, setting: object | null, who: string, savedMs: number): void {
      saveSetting.run(type, setting === null ? null : JSON.stringify(setting), who, Math.round(savedMs));
    },
  };
}
