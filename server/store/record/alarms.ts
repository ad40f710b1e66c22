import type { Database } from 'better-sqlite3';
import type { Alarm, AlarmChange, AlarmType } from '../../alarm/alarm.ts';
import type { JournalPageOf, JournalStep } from '../../monitor/ports/record.ts';
import { alarmOf, JOURNAL_COLUMNS, type JournalRow, stepOf } from './journal-row.ts';

/** The current state of each alarm, the journal of all alarm steps, and how users set the alarm types. */
export function alarmTable(db: Database) {
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
  const standing = db.prepare<[], string>("SELECT payload FROM alarm WHERE state <> 'normal' ORDER BY id").pluck();
  // Alarms of imported runs have ids below 0.
  const lastId = db.prepare<[], number>('SELECT id FROM alarm WHERE id > 0 ORDER BY id DESC LIMIT 1').pluck();
  const journal = db.prepare<[number | null], JournalRow>(
    `SELECT ${JOURNAL_COLUMNS} FROM alarm_journal WHERE run_id IS ? ORDER BY time_ms, id`,
  );
  const pageWhere = (condition: string) =>
    db.prepare<object, JournalRow & { id: number; run_id: number | null }>(
      `SELECT id, run_id, ${JOURNAL_COLUMNS} FROM alarm_journal
       WHERE ${condition}time_ms < :toMs AND (time_ms, id) > (:afterMs, :afterId) ORDER BY time_ms, id LIMIT :limit`,
    );
  const page = pageWhere('');
  const pageOfRun = pageWhere('run_id = :runId AND ');
  const settings = db.prepare<[], { type: string; payload: string | null }>(
    'SELECT type, payload FROM alarm_setting WHERE id IN (SELECT max(id) FROM alarm_setting GROUP BY type)',
  );
  const saveSetting = db.prepare('INSERT INTO alarm_setting (type, payload, who, saved_ms) VALUES (?, ?, ?, ?)');
  return {
    /** A step after the end of the run, such as an answer in the morning, still belongs to the run of the alarm. */
    save: db.transaction((runId: number | null, changes: readonly AlarmChange[]): void => {
      for (const { alarm, what, timeMs, by, from, why } of changes) {
        const payload = JSON.stringify(alarm);
        upsert.run(alarm.id, runId, alarm.type, alarm.subject, alarm.state, payload);
        append.run(runOfAlarm.get(alarm.id) ?? null, alarm.id, timeMs, what, by, from, why, payload);
      }
    }),
    /** Alarms that already belong to a run stay with it. */
    adopt: db.transaction((runId: number, alarmIds: readonly number[]): void => {
      for (const id of alarmIds) if (adopt.run(runId, id).changes > 0) adoptSteps.run(runId, id);
    }),
    standing: (): Alarm[] => standing.all().map(alarmOf),
    lastId: (): number => lastId.get() ?? 0,
    journal: (runId: number | null): AlarmChange[] => journal.all(runId).map(stepOf),
    journalPage({ runId, fromMs, toMs, after, limit }: JournalPageOf): JournalStep[] {
      const place = after ?? { timeMs: fromMs, id: Number.NEGATIVE_INFINITY };
      const parameters = { toMs, limit, afterMs: place.timeMs, afterId: place.id };
      const rows = runId === null ? page.all(parameters) : pageOfRun.all({ ...parameters, runId });
      return rows.map((row) => ({ ...stepOf(row), id: row.id, runId: row.run_id }));
    },
    settings: (): Record<string, unknown> =>
      Object.fromEntries(
        settings.all().flatMap(({ type, payload }) => (payload === null ? [] : [[type, JSON.parse(payload)]])),
      ),
    saveSetting(type: AlarmType, setting: object | null, who: string, savedMs: number): void {
      saveSetting.run(type, setting === null ? null : JSON.stringify(setting), who, Math.round(savedMs));
    },
  };
}
