import { setImmediate } from 'node:timers/promises';
import { titleOf } from '../../alarm/catalogue.ts';
import type { JournalPageOf, JournalStep, RecordReader } from '../../monitor/ports/record.ts';
import { otherDate } from './encoded.ts';
import { csvText } from './text-encoders.ts';

export const JOURNAL_FORMATS = ['csv', 'json'] as const;
export type JournalFormat = (typeof JOURNAL_FORMATS)[number];

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
  'reason',
  'occurrences',
  'suppressed until',
  'sentence',
] as const;

/** Steps read and written at a time, so that other requests are served in between. */
const PAGE = 500;

/**
 * The alarm journal as a file, piece by piece: one row for each step, in order of time, times in ISO 8601 UTC.
 * CSV by RFC 4180 (a header line, CRLF, an empty cell for no value), or a JSON array.
 */
export async function* exportJournal(
  reader: RecordReader,
  of: Pick<JournalPageOf, 'runId' | 'fromMs' | 'toMs'>,
  format: JournalFormat,
): AsyncGenerator<string> {
  const csv = format === 'csv';
  const { runId } = of;
  const startedMs = () => (runId === null ? undefined : reader.run(runId)?.startedMs);
  const beganMs = startedMs();
  yield csv ? `${COLUMNS.map(csvText).join(',')}\r\n` : '[';
  let after: JournalStep | null = null;
  let page: readonly JournalStep[];
  do {
    page = reader.alarmJournalPage({ ...of, after, limit: PAGE });
    const comma: string = after === null ? '\n' : ',\n';
    if (page.length > 0) yield csv ? page.map(csvLine).join('') : comma + page.map(jsonLine).join(',\n');
    after = page.at(-1) ?? after;
    await setImmediate();
    // The steps of a run whose date was corrected are elsewhere, so that some would be missing.
    if (runId !== null && startedMs() !== beganMs) throw otherDate(runId);
  } while (page.length === PAGE);
  if (!csv) yield '\n]\n';
}

function csvLine(step: JournalStep): string {
  const cells = asObject(step);
  return `${COLUMNS.map((name) => csvText(String(cells[name] ?? ''))).join(',')}\r\n`;
}

const jsonLine = (step: JournalStep) => JSON.stringify(asObject(step));

function asObject({ timeMs, runId, step, by, from, reason, alarm }: JournalStep) {
  const untilMs = alarm.suppression?.untilMs ?? null;
  return {
    time: new Date(timeMs).toISOString(),
    run: runId,
    alarm: alarm.id,
    title: titleOf(alarm),
    type: alarm.type,
    subject: alarm.subject,
    priority: alarm.priority,
    step,
    state: alarm.state,
    by,
    from,
    reason,
    occurrences: alarm.occurrences,
    'suppressed until': untilMs === null ? null : new Date(untilMs).toISOString(),
    sentence: alarm.sentence,
  };
}
