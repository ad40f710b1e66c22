import type { AlarmChange } from '../../alarm/alarm.ts';
import { alarmOf, alarmStepOf, requireUnits } from './stored-shapes.ts';
import type { UnreadableRows } from './unreadable-rows.ts';

/** The columns of `alarm_journal` that make a step. */
export interface JournalRow {
  id: number;
  run_id: number | null;
  time_ms: number;
  what: string;
  by: string | null;
  came_from: string | null;
  why: string;
  payload: string;
}

export const JOURNAL_COLUMNS = 'id, run_id, time_ms, what, by, came_from, why, payload';

/** The steps of the rows that can be read. */
export function stepsOf(rows: readonly JournalRow[], unreadable: UnreadableRows): AlarmChange[] {
  return unreadable.all(rows, placeOfStep, stepOf);
}

export function placeOfStep({ id, run_id: runId }: JournalRow) {
  return { table: 'alarm_journal', row: id, runId };
}

/** @throws Error if the row is damaged */
export function stepOf(row: JournalRow): AlarmChange {
  requireUnits(row);
  const { time_ms: timeMs, by, came_from: from, why: reason } = row;
  return { timeMs, step: alarmStepOf(row.what), by, from, reason, alarm: alarmOf(row.payload) };
}
