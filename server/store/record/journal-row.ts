import type { Alarm, AlarmChange } from '../../alarm/alarm.ts';

/** The columns of `alarm_journal` that make a step. */
export interface JournalRow {
  time_ms: number;
  what: AlarmChange['what'];
  by: string | null;
  came_from: string | null;
  why: string;
  payload: string;
}

export const JOURNAL_COLUMNS = 'time_ms, what, by, came_from, why, payload';

export function stepOf(row: JournalRow): AlarmChange {
  const { time_ms: timeMs, what, by, came_from: from, why } = row;
  return { timeMs, what, by, from, why, alarm: alarmOf(row.payload) };
}

/** Alarms stored by the first releases lack the fields that were added later. */
export function alarmOf(payload: string): Alarm {
  return { consequence: '', ceasedMs: null, suppression: null, ...JSON.parse(payload) };
}
