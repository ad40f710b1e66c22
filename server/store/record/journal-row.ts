import type { Alarm, AlarmChange } from '../../alarm/alarm.ts';

/** A row of `alarm_journal` as far as a step is told by it. */
export interface JournalRow {
  time_ms: number;
  what: AlarmChange['what'];
  by: string | null;
  came_from: string | null;
  why: string;
  payload: string;
}

export const JOURNAL_COLUMNS = 'time_ms, what, by, came_from, why, payload';

/** The step that a row tells of. */
export function stepOf(row: JournalRow): AlarmChange {
  const { time_ms: timeMs, what, by, came_from: from, why } = row;
  return { timeMs, what, by, from, why, alarm: alarmOf(row.payload) };
}

/** What was kept before alarms could rest says nothing of it. */
export function alarmOf(payload: string): Alarm {
  return { consequence: '', ceasedMs: null, suppression: null, ...JSON.parse(payload) };
}
