import type { AlarmChange } from '../../alarm/alarm.ts';
import { titleOf } from '../../alarm/catalogue.ts';
import { csvText } from './text-encoders.ts';

export const JOURNAL_FORMATS = ['csv', 'json'] as const;
export type JournalFormat = (typeof JOURNAL_FORMATS)[number];

/** A step of the journal with the run it is told of. */
export type JournalRow = AlarmChange & { readonly runId: number | null };

const COLUMNS = [
  'time',
  'run',
  'alarm',
  'title',
  'type',
  'subject',
  'priority',
  'step',
  'state',
  'by',
  'from',
  'why',
  'occurrences',
  'rests until',
  'sentence',
] as const;

/** The journal of alarms for other programs: one step a row, in order of time. Times ISO 8601 in UTC. */
export function exportJournal(rows: readonly JournalRow[], format: JournalFormat): string {
  return format === 'csv' ? asCsv(rows) : JSON.stringify(rows.map(asObject), null, 1);
}

/** RFC 4180: a header line, CRLF, an empty cell for no value. */
function asCsv(rows: readonly JournalRow[]): string {
  const lines = rows.map((row) => {
    const cells = asObject(row);
    return COLUMNS.map((name) => csvText(String(cells[name] ?? ''))).join(',');
  });
  return [COLUMNS.map(csvText).join(','), ...lines, ''].join('\r\n');
}

function asObject({ timeMs, runId, what, by, from, why, alarm }: JournalRow) {
  const untilMs = alarm.rest?.untilMs ?? null;
  return {
    time: new Date(timeMs).toISOString(),
    run: runId,
    alarm: alarm.id,
    title: titleOf(alarm),
    type: alarm.type,
    subject: alarm.subject,
    priority: alarm.priority,
    step: what,
    state: alarm.state,
    by,
    from,
    why,
    occurrences: alarm.occurrences,
    'rests until': untilMs === null ? null : new Date(untilMs).toISOString(),
    sentence: alarm.sentence,
  };
}
