import { setImmediate } from 'node:timers/promises';
import type { AlarmStep } from '../alarm/alarm.ts';
import { titleOf } from '../alarm/catalogue.ts';
import type { JournalStep, RecordReader } from '../monitor/ports/record.ts';
import type { JournalEntryView, JournalPageView } from './contract/alarm-journal.ts';

/** Entries looked through by one request. A search for a rare word needs several requests, but none occupies the service for long. */
const LOOKED_THROUGH_MAX = 2000;
/** Entries read at a time, so that other requests are served in between. */
const CHUNK = 250;

interface Query {
  readonly search: string;
  readonly step?: AlarmStep;
  readonly from: number;
  readonly to: number;
  readonly toId?: number;
  readonly limit: number;
}

/** A page of the alarm journal, the newest entries first. */
export async function searchJournal(
  reader: Pick<RecordReader, 'alarmJournalPage'>,
  query: Query,
  lookedThroughMax = LOOKED_THROUGH_MAX,
) {
  const words = query.search.toLowerCase().split(/\s+/);
  const matches = (step: JournalStep) => {
    if (query.step !== undefined && step.step !== query.step) return false;
    const { alarm, by, from, reason } = step;
    const text = [titleOf(alarm), alarm.sentence, by, from, reason].join(' ').toLowerCase();
    return words.every((word) => text.includes(word));
  };
  const entries: JournalEntryView[] = [];
  const window = { runId: null, fromMs: query.from, toMs: query.to, newestFirst: true };
  let after = query.toId === undefined ? null : { timeMs: query.to, id: query.toId };
  for (let lookedThrough = 0; lookedThrough < lookedThroughMax; lookedThrough += CHUNK) {
    const chunk = reader.alarmJournalPage({ ...window, after, limit: CHUNK });
    for (const step of chunk) {
      after = { timeMs: step.timeMs, id: step.id };
      if (matches(step)) entries.push(entryView(step));
      if (entries.length === query.limit) return pageOf(entries, after);
    }
    if (chunk.length < CHUNK) return pageOf(entries, null);
    await setImmediate();
  }
  return pageOf(entries, after);
}

function pageOf(entries: JournalEntryView[], last: { readonly timeMs: number; readonly id: number } | null) {
  return { entries, next: last && { to: last.timeMs, toId: last.id } } satisfies JournalPageView;
}

function entryView({ id, timeMs, step, by, from, reason, alarm, runId }: JournalStep): JournalEntryView {
  const { type, priority, sentence } = alarm;
  return { id, timeMs, step, type, title: titleOf(alarm), priority, sentence, by, from, reason, runId };
}
